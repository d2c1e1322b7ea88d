package api

import (
	"context"

	"coldrise/domain/problem"
)

// gate lets a few plans be computed at once, some more wait, and turns the
// rest away: a plan keeps a core busy, and a queue without end only makes
// everybody's deadline pass.
type gate struct {
	tickets chan struct{} // working or waiting
	slots   chan struct{} // working
}

func newGate(workers, queue int) *gate {
	return &gate{tickets: make(chan struct{}, workers+queue), slots: make(chan struct{}, workers)}
}

// enter waits for a slot until ctx ends. busy: the queue is full. cancelled:
// ctx ended. The slot is given back by leave.
func (g *gate) enter(ctx context.Context) (leave func(), err error) {
	select {
	case g.tickets <- struct{}{}:
	default:
		return nil, problem.New(problem.Busy, "%d plans are being made or waiting, which is the limit; try again", cap(g.tickets))
	}
	select {
	case g.slots <- struct{}{}:
		return func() { <-g.slots; <-g.tickets }, nil
	case <-ctx.Done():
		<-g.tickets
		return nil, &problem.Error{Code: problem.Cancelled, Message: "stopped while waiting for its turn", Cause: ctx.Err()}
	}
}
