package sqlite

import "context"

// Ready reads a row and, at most every five seconds, writes it. A write that
// waits behind another past the end of ctx is an error too.
func (s *Store) Ready(ctx context.Context) error {
	err := s.probe.Ask(ctx, func(ctx context.Context) error {
		var writes int64
		return s.reader.QueryRowContext(ctx, "SELECT writes FROM probe WHERE one = 1").Scan(&writes)
	}, func(ctx context.Context) error {
		_, err := s.writer.ExecContext(ctx, "UPDATE probe SET writes = writes + 1 WHERE one = 1")
		return err
	})
	return fault(ctx, err, "probe the database")
}
