package plan

import (
	"math"
	"reflect"
)

// significant is how many digits a plan's figures keep: more than any input
// has, few enough that machines which round sums differently print the same plan.
const significant = 6

// round cuts every figure of a plan to its significant digits. A plan is made
// of structs, slices, pointers and plain values; maps and interfaces have no
// place in it.
func round(v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		v.SetFloat(digits(v.Float()))
	case reflect.Pointer:
		if !v.IsNil() {
			fresh := reflect.New(v.Type().Elem())
			fresh.Elem().Set(v.Elem())
			round(fresh.Elem())
			v.Set(fresh)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			round(v.Field(i))
		}
	case reflect.Slice:
		if v.Len() == 0 {
			return
		}
		fresh := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(fresh, v)
		for i := range fresh.Len() {
			round(fresh.Index(i))
		}
		v.Set(fresh)
	}
}

func digits(x float64) float64 {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return x
	}
	scale := math.Pow(10, significant-1-math.Floor(math.Log10(math.Abs(x))))
	if math.IsInf(scale, 0) || scale == 0 {
		return x
	}
	if scale < 1 {
		return math.Round(x*scale) * math.Round(1/scale)
	}
	return math.Round(x*scale) / scale
}
