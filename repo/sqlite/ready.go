package sqlite

import (
	"context"
	"time"
)

// probeEvery is the least time between two writes of the probe: readiness is
// asked for often, and each write is a commit.
const probeEvery = 5 * time.Second

// probe remembers when readiness last wrote.
type probe struct {
	turn    chan struct{} // holds one token; a mutex would not give up with a context
	now     func() time.Time
	written time.Time
}

func newProbe(now func() time.Time) probe {
	p := probe{turn: make(chan struct{}, 1), now: now}
	p.turn <- struct{}{}
	return p
}

// Ready reads a row and, at most every five seconds, writes it. A write that
// waits behind another past the end of ctx is an error too.
func (s *Store) Ready(ctx context.Context) error {
	select {
	case <-s.probe.turn:
	case <-ctx.Done():
		return fault(ctx, ctx.Err(), "wait for the probe")
	}
	defer func() { s.probe.turn <- struct{}{} }()

	var writes int64
	if err := s.reader.QueryRowContext(ctx, "SELECT writes FROM probe WHERE one = 1").Scan(&writes); err != nil {
		return fault(ctx, err, "read the probe")
	}
	now := s.probe.now()
	if !s.probe.written.IsZero() && now.Sub(s.probe.written) < probeEvery {
		return nil
	}
	if _, err := s.writer.ExecContext(ctx, "UPDATE probe SET writes = writes + 1 WHERE one = 1"); err != nil {
		return fault(ctx, err, "write the probe")
	}
	s.probe.written = now
	return nil
}
