package published

import (
	"strconv"
	"testing"

	"coldrise/domain/tube"
)

// tubes are ratings in print that the program holds as they stand; those from
// memory are not here.
func tubes(t *testing.T) []value {
	var rows []value
	of := func(name string) tube.Rectifier {
		r, ok := tube.LookupRectifier(name)
		if !ok {
			t.Errorf("no %s", name)
		}
		return r
	}
	add := func(source, name, what string, have, printed float64) {
		rows = append(rows, data(source, name+", "+what, have, printed))
	}
	r := of("5Y3GT")
	add("tubeofile", "5Y3", "direct current, mA", r.MaxDCMA, 125)
	add("tubeofile", "5Y3", "drop at 125 mA, V", r.DropV, 60)
	add("tubeofile", "5Y3", "first capacitor, µF", r.MaxFirstUF, 20)
	r = of("5T4")
	add("tubeofile", "5T4", "plate volts", r.MaxPlateV, 450)
	add("tubeofile", "5T4", "direct current, mA", r.MaxDCMA, 225)
	add("tubeofile", "5T4", "source resistance, Ω", r.MinSourceOhm, 150)
	add("tubeofile", "5T4", "drop at 225 mA, V", r.DropV, 45)
	add("tubeofile", "5T4", "first capacitor, µF", r.MaxFirstUF, 40)
	r = of("5R4GY")
	add("tubeofile", "5R4", "peak inverse, V", r.PIV, 2800)
	add("tubeofile", "5R4", "drop at 250 mA, V", r.DropV, 67)
	add("tubeofile", "5R4", "first capacitor, µF", r.MaxFirstUF, 4)
	add("tubeofile", "5R4", "source resistance, Ω", r.MinSourceOhm, 250)
	r = of("GZ37")
	add("tubeofile", "GZ37", "direct current, mA", r.MaxDCMA, 250)
	add("tubeofile", "GZ37", "peak inverse, V", r.PIV, 1600)
	add("tubeofile", "GZ37", "first capacitor, µF", r.MaxFirstUF, 4)
	add("tubeofile", "GZ37", "source resistance, Ω", r.MinSourceOhm, 75)
	add("tubeofile", "GZ34", "first capacitor, µF", of("GZ34").MaxFirstUF, 60)
	r = of("5CU4")
	add("tubeofile", "5CU4", "direct current, mA", r.MaxDCMA, 425)
	add("tubeofile", "5CU4", "drop at 385 mA, V", r.DropV, 20)
	r = of("EZ40")
	add("ez40", "EZ40", "plate volts", r.MaxPlateV, 350)
	add("ez40", "EZ40", "direct current, mA", r.MaxDCMA, 90)
	add("ez40", "EZ40", "first capacitor, µF", r.MaxFirstUF, 50)
	for volts, ohm := range map[float64]float64{250: 125, 275: 175, 300: 215, 350: 300} {
		add("ez40", "EZ40", "source resistance at "+strconv.FormatFloat(volts, 'g', -1, 64)+" V, Ω", r.MinSourceAt(volts), ohm)
	}
	add("ez40", "EZ40", "warm-up, s", (r.WarmFromS+r.WarmToS)/2, 35)
	r = of("EZ41")
	add("tubeofile", "EZ41", "plate volts", r.MaxPlateV, 250)
	add("tubeofile", "EZ41", "direct current, mA", r.MaxDCMA, 60)
	add("tubeofile", "EZ41", "drop at 60 mA, V", r.DropV, 15)
	add("tubeofile", "EZ41", "source resistance for 32 µF, Ω", r.MinSourceOhm, 300)
	add("tubeofile", "EZ41", "warm-up, s", (r.WarmFromS+r.WarmToS)/2, 22)
	r = of("AZ41")
	add("tubeofile", "AZ41", "direct current, mA", r.MaxDCMA, 70)
	add("tubeofile", "AZ41", "drop at 35 mA, V", r.DropV, 23)
	add("tubeofile", "AZ41", "first capacitor, µF", r.MaxFirstUF, 50)
	r = of("AZ1")
	add("tubeofile", "AZ1", "drop at 60 mA, V", r.DropV, 28)
	add("tubeofile", "AZ1", "first capacitor, µF", r.MaxFirstUF, 60)
	r = of("6X4")
	add("tubeofile", "6X4", "plate volts", r.MaxPlateV, 325)
	add("tubeofile", "6X4", "direct current, mA", r.MaxDCMA, 70)
	add("tubeofile", "6X4", "drop at 70 mA, V", r.DropV, 22)
	add("tubeofile", "6X4", "source resistance, Ω", r.MinSourceOhm, 525)
	r = of("81")
	add("tubeofile", "81", "plate volts", r.MaxPlateV, 700)
	add("tubeofile", "81", "drop at 170 mA, V", r.DropV, 91)
	return rows
}
