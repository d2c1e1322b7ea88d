package supply

// room is the working memory of fast runs, kept from one to the next so that
// a run of the same or a smaller circuit allocates next to nothing. Everything
// handed out from it is void once the next run begins.
type room struct {
	block []float64
	used  int
	lost  int // asked for beyond the block

	trace   trace
	walked  []walkedPeriod
	peakV   []float64
	peakAt  []float64
	peakA   []float64
	waves   []float64
	share   []float64
	t, v, a []float64
	rate    []float64
	lean    []float64
	cosine  []float64 // of a whole turn
	sine    []float64
}

// begin voids what was handed out, and grows the block to what was asked for.
func (r *room) begin() {
	if r.lost > 0 {
		r.block = make([]float64, r.used+r.lost)
	}
	clear(r.block[:r.used])
	r.used, r.lost = 0, 0
}

// floats gives n zeros.
func (r *room) floats(n int) []float64 {
	if r.used+n > len(r.block) {
		r.lost += n
		return make([]float64, n)
	}
	r.used += n
	return r.block[r.used-n : r.used : r.used]
}
