package supply

// Fed is what draws from a supply on the bench.
type Fed int

// What may draw.
const (
	Nothing    Fed = iota // all tubes out, or cold; bleeders stay
	OutputsOut            // all but the output tubes
	Everything
)

// TubeExponent is how a tube stage's current goes with its supply voltage where
// nothing is stated. Common practice: between 1.3 and 1.5.
const TubeExponent = tubeExponent

// OnBench gives a service on given wall volts: from cold with the standby used
// as intended, or warm, which gives what the supply settles to. It is no case
// that a part is judged by. For a tube rectifier full emission is taken, which
// on reduced mains is more than there is.
func (m *Model) OnBench(wallV float64, fed Fed, cold bool) Service {
	s := Service{Name: "on_bench", Title: "on the bench", Text: "Brought up on the bench.", wallV: wallV, warm: !cold}
	switch fed {
	case Nothing:
		s.loads = unloaded
	case OutputsOut:
		s.loads = pulled
	}
	s.EndS = m.endOf(&s)
	return s
}

// TurnsRatio is the winding's volts per conducting side over the mains': what
// a secondary current is multiplied by to give the primary's.
func (m *Model) TurnsRatio() float64 { return m.UnloadedV / m.NominalV }

// HasOutput says whether the supply feeds output tubes.
func (m *Model) HasOutput() bool { return m.hasOutput() }
