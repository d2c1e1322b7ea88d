package derate

// ForTolerance gives the stress of a stack's unit when its units have another
// tolerance than those fitted: the worst of them takes another share. A single
// capacitor's is as it was.
func (s Stress) ForTolerance(minusPct, plusPct float64) Stress {
	if s.Units < 2 || s.ChargingShare <= 0 || s.RestShare <= 0 {
		return s
	}
	share := StackSplit(minusPct, plusPct, s.Units) * float64(s.Units)
	charging, rest := share/s.ChargingShare, share/s.RestShare
	if s.Balanced {
		rest = 1 // the resistors' tolerance, not the capacitors'
	}
	s = s.scaled(charging, rest)
	s.ChargingShare, s.RestShare = share, s.RestShare*rest
	return s
}

// Whole gives what stands across the whole of a series stack of which s is the
// worst unit, with the window of the whole; any other stress as it is.
func (s Stress) Whole() Stress {
	if s.Units < 2 || s.ChargingShare <= 0 || s.RestShare <= 0 {
		return s
	}
	n := float64(s.Units)
	s = s.scaled(n/s.ChargingShare, n/s.RestShare)
	s.Window = s.Window.times(1 / n)
	s.Units, s.ChargingShare, s.RestShare, s.Balanced = 0, 0, 0, false
	return s
}

// InStack gives the stress of the worst of n alike units in series that stand
// for the whole of s. Charging and rest are what it takes over an even share
// while the stack charges and at rest, where resistors hold it. Each unit has n
// times the window's capacitance and all of the current.
func (s Stress) InStack(n int, charging, rest float64) Stress {
	s = s.Whole().scaled(charging/float64(n), rest/float64(n))
	s.Window = s.Window.times(float64(n))
	s.Units, s.ChargingShare, s.RestShare, s.Balanced = n, charging, rest, true
	return s
}

// scaled gives the stress with what is reached while charging and what stands
// at rest multiplied.
func (s Stress) scaled(charging, rest float64) Stress {
	s.WorkingV, s.DCV, s.NominalDCV = s.WorkingV*rest, s.DCV*rest, s.NominalDCV*rest
	s.Worst.V *= charging
	s.Worst.Above = raised(s.Worst.Above, charging)
	s.Peaks = append([]CasePeak(nil), s.Peaks...)
	for i := range s.Peaks {
		s.Peaks[i].V *= charging
		s.Peaks[i].Above = raised(s.Peaks[i].Above, charging)
	}
	return s
}

// times gives the window of so many times the capacitance.
func (w Window) times(k float64) Window {
	w.OriginalUF, w.MinUF, w.MaxUF, w.AdviceUF, w.UpperUF = w.OriginalUF*k, w.MinUF*k, w.MaxUF*k, w.AdviceUF*k, w.UpperUF*k
	return w
}
