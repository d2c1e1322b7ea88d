package catalogue

import (
	"context"
	"errors"
	"io"
	"os"

	"coldrise/domain/problem"
)

// Spooled is a file that came as a stream and was put on disk, so that it can
// be read more than once. It has no name: whatever becomes of the process,
// nothing is left behind.
type Spooled struct {
	file *os.File
	size int64
}

// Spool puts what r gives on disk, in dir or the system's folder for temporary
// files where dir is "". The error is a *problem.Error: too_large past most
// bytes, cancelled, internal. What r failed with is its cause.
func Spool(ctx context.Context, r io.Reader, dir string, most int64) (*Spooled, error) {
	f, err := os.CreateTemp(dir, "coldrise-import-")
	if err != nil {
		return nil, problem.Wrap(err, "make a temporary file")
	}
	if err := os.Remove(f.Name()); err != nil {
		return nil, problem.Wrap(errors.Join(err, f.Close()), "unlink a temporary file")
	}
	n, err := io.Copy(f, io.LimitReader(&heedful{ctx, r}, most+1))
	switch {
	case err != nil && ctx.Err() != nil:
		err = stopped(err)
	case err != nil:
		err = problem.Wrap(err, "put a file on disk")
	case n > most:
		err = problem.New(problem.TooLarge, "the file has more than %d bytes", most)
	default:
		return &Spooled{file: f, size: n}, nil
	}
	_ = f.Close() // the first error is the one to tell
	return nil, err
}

// heedful is a reader that ends with its context.
type heedful struct {
	ctx context.Context
	r   io.Reader
}

func (h *heedful) Read(p []byte) (int, error) {
	if err := h.ctx.Err(); err != nil {
		return 0, err
	}
	return h.r.Read(p)
}

// ReadAt reads from the file.
func (s *Spooled) ReadAt(p []byte, at int64) (int, error) { return s.file.ReadAt(p, at) }

// Size is the file's, in bytes.
func (s *Spooled) Size() int64 { return s.size }

// Close lets go of the file, which is then gone.
func (s *Spooled) Close() error {
	if err := s.file.Close(); err != nil {
		return problem.Wrap(err, "close a temporary file")
	}
	return nil
}
