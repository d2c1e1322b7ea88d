package sqlite

import (
	"errors"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"coldrise/domain/problem"
)

const driverName = "sqlite"

// busyMS is how long a statement waits for another process's lock before the
// answer is busy. A shop's longest write, an import in one transaction, is
// well within it.
const busyMS = 5000

// writerPragmas are set on every connection, through the DSN: an Exec after
// opening would reach one connection of the pool. The driver itself puts
// busy_timeout first, so that the others wait for a lock as well.
var writerPragmas = []string{
	"busy_timeout(" + strconv.Itoa(busyMS) + ")",
	"foreign_keys(1)",
	"journal_mode(WAL)",
	// NORMAL in WAL survives the process, and keeps the file sound when the
	// power goes; the last commits before that may be gone.
	"synchronous(NORMAL)",
	"temp_store(MEMORY)",
	// A file is not trusted to bring functions and views of its own.
	"trusted_schema(0)",
}

var readerPragmas = append([]string{"query_only(1)"}, writerPragmas...)

func writerDSN(file string) string { return dsn(file, writerPragmas, "_txlock=immediate") }

func readerDSN(file string) string { return dsn(file, readerPragmas) }

// dsn names a file with pragmas for its connections. _dqs=0 makes a mistyped
// name in double quotes an error instead of a text.
func dsn(file string, pragmas []string, more ...string) string {
	query := []string{"_dqs=0", "_defensive=1"}
	for _, p := range pragmas {
		query = append(query, "_pragma="+url.QueryEscape(p))
	}
	name := filepath.ToSlash(file)
	if !strings.HasPrefix(name, "/") { // A drive letter.
		name = "/" + name
	}
	return "file:" + (&url.URL{Path: name}).EscapedPath() + "?" + strings.Join(append(query, more...), "&")
}

// checkPath gives path as an absolute one, or says why no database can be
// there. It looks at the file from outside and never opens it: closing a
// descriptor of its own would drop the locks that SQLite holds on the file in
// this process.
func checkPath(path string) (string, error) {
	if path == "" || path == ":memory:" || strings.ContainsRune(path, 0) {
		return "", problem.New(problem.Invalid, "the database needs the name of a file; got %q", path)
	}
	file, err := filepath.Abs(path)
	if err != nil {
		return "", problem.Wrap(err, "find the working directory")
	}
	info, err := os.Stat(file)
	switch {
	case err == nil && info.IsDir():
		return "", problem.New(problem.Invalid, "%s is a folder; the database needs the name of a file", file)
	case err == nil && !info.Mode().IsRegular():
		return "", problem.New(problem.Invalid, "%s is not a regular file", file)
	case errors.Is(err, fs.ErrNotExist):
		return file, checkFolder(file)
	case err != nil:
		return "", unreachable(file, err)
	}
	return file, nil
}

func checkFolder(file string) error {
	folder := filepath.Dir(file)
	info, err := os.Stat(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return problem.New(problem.Invalid, "the database %s cannot be made: there is no folder %s", file, folder)
	case err != nil:
		return unreachable(file, err)
	case !info.IsDir():
		return problem.New(problem.Invalid, "the database %s cannot be made: %s is not a folder", file, folder)
	}
	return nil
}

// unreachable is for a file that the operating system does not let us at.
func unreachable(file string, cause error) error {
	return &problem.Error{Code: problem.Invalid, Cause: cause,
		Message: "the database " + file + " cannot be opened: this user must be able to read and write the file and its folder"}
}
