package main

import (
	"errors"
	"io"
	"io/fs"
	"os"

	"coldrise/domain/problem"
)

// maxFile is the largest file read, in bytes: what the API takes as a body.
const maxFile = 1 << 20

// read gives a file whole, or standard input for "-".
func (a *app) read(name string) ([]byte, error) {
	from := a.stdin
	if name != "-" {
		file, err := os.Open(name)
		if err != nil {
			return nil, fileError(name, err)
		}
		defer func() { _ = file.Close() }() // read only
		from = file
	}
	data, err := io.ReadAll(io.LimitReader(from, maxFile+1))
	if err != nil {
		return nil, fileError(name, err)
	}
	if len(data) > maxFile {
		return nil, problem.New(problem.TooLarge, "%s is larger than %d bytes, which is the limit", name, maxFile)
	}
	return data, nil
}

func fileError(name string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return problem.New(problem.NotFound, "there is no file %s", name)
	}
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return problem.New(problem.Malformed, "%s cannot be read: %v", name, err)
}
