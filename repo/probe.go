package repo

import (
	"context"
	"time"
)

// ProbeEvery is the least time between two writes of a probe: readiness is
// asked for often, and each write is a commit.
const ProbeEvery = 5 * time.Second

// Probe asks a database whether it reads and, every so often, whether it
// writes. Every engine's Ready goes by one.
type Probe struct {
	turn    chan struct{} // holds one token; a mutex would not give up with a context
	now     func() time.Time
	written time.Time
}

// NewProbe makes a probe that tells the time by now.
func NewProbe(now func() time.Time) *Probe {
	p := &Probe{turn: make(chan struct{}, 1), now: now}
	p.turn <- struct{}{}
	return p
}

// Ask calls read, and write where the last write that succeeded is ProbeEvery
// or longer ago. It gives the first error, or that of ctx where it ends while
// others ask.
func (p *Probe) Ask(ctx context.Context, read, write func(ctx context.Context) error) error {
	select {
	case <-p.turn:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { p.turn <- struct{}{} }()
	if err := read(ctx); err != nil {
		return err
	}
	now := p.now()
	if !p.written.IsZero() && now.Sub(p.written) < ProbeEvery {
		return nil
	}
	if err := write(ctx); err != nil {
		return err
	}
	p.written = now
	return nil
}
