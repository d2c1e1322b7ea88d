package pgtest

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// server is a running PostgreSQL. It listens on a socket in its folder alone.
type server struct {
	folder string
	cmd    *exec.Cmd
	exited chan struct{}
}

// options take away what keeps data through a power cut, and the port.
var options = []string{"-c", "listen_addresses=", "-c", "fsync=off", "-c", "synchronous_commit=off", "-c", "full_page_writes=off",
	"-c", "max_connections=300", "-c", "timezone=Asia/Kolkata", "-c", "log_min_messages=fatal"}

// readyTime is how long a server may take to come up on a busy machine.
const readyTime = 60 * time.Second

func launch(bin string) (*server, error) {
	folder, err := os.MkdirTemp("", "coldrise-pg-") // Not t.TempDir: a socket's path has 107 bytes at most.
	if err != nil {
		return nil, err
	}
	who, err := owner(folder)
	if err != nil {
		return nil, err
	}
	s := &server{folder: folder, exited: make(chan struct{})}
	data := filepath.Join(folder, "data")
	initdb := s.command(who, filepath.Join(bin, "initdb"), "--no-sync", "-A", "trust", "-U", "postgres", "-E", "UTF8", "--locale=C.UTF-8", "-D", data)
	if out, err := initdb.CombinedOutput(); err != nil {
		os.RemoveAll(folder)
		return nil, fmt.Errorf("initdb: %w: %s", err, out)
	}
	s.cmd = s.command(who, filepath.Join(bin, "postgres"), append([]string{"-D", data, "-k", folder}, options...)...)
	var words bytes.Buffer
	s.cmd.Stderr = &words
	if err := s.run(); err != nil {
		os.RemoveAll(folder)
		return nil, err
	}
	if err := s.wait(); err != nil {
		s.stop()
		return nil, fmt.Errorf("%w: %s", err, words.String())
	}
	return s, nil
}

// run starts the server from a thread that lives as long as this process: the
// kernel ends the server when the thread that started it ends.
func (s *server) run() error {
	started := make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		err := s.cmd.Start()
		started <- err
		if err == nil {
			_ = s.cmd.Wait() // How it ended is of no interest.
		}
		close(s.exited)
	}()
	return <-started
}

// command is a command of the server's user, which ends with this process.
func (s *server) command(who *syscall.Credential, name string, args ...string) *exec.Cmd {
	cmd := exec.Command(name, args...)
	cmd.Dir = s.folder
	cmd.Env = append(os.Environ(), "LC_ALL=C.UTF-8")
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: who, Pdeathsig: syscall.SIGQUIT, Setpgid: true}
	return cmd
}

// owner gives the folder to the user postgres where this process is root's:
// the server refuses to run as root.
func owner(folder string) (*syscall.Credential, error) {
	if os.Getuid() != 0 {
		return nil, nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return nil, err
	}
	uid, err := strconv.Atoi(u.Uid)
	if err != nil {
		return nil, err
	}
	gid, err := strconv.Atoi(u.Gid)
	if err != nil {
		return nil, err
	}
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, os.Chown(folder, uid, gid)
}

// wait waits until the server says that it is ready.
func (s *server) wait() error {
	pidFile := filepath.Join(s.folder, "data", "postmaster.pid")
	for begun := time.Now(); time.Since(begun) < readyTime; time.Sleep(5 * time.Millisecond) {
		select {
		case <-s.exited:
			return io.ErrUnexpectedEOF
		default:
		}
		if text, err := os.ReadFile(pidFile); err == nil && bytes.Contains(text, []byte("\nready")) {
			return nil
		}
	}
	return os.ErrDeadlineExceeded
}

// stop ends the server at once and takes its folder away.
func (s *server) stop() {
	_ = s.cmd.Process.Signal(syscall.SIGQUIT) // It may have ended by itself.
	<-s.exited
	os.RemoveAll(s.folder)
}

func (s *server) url(database string) string {
	return "postgres:///" + database + "?" + url.Values{"host": {s.folder}, "user": {"postgres"}}.Encode()
}

// admin runs one statement outside of any test's database.
func (s *server) admin(t testing.TB, sql string) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, s.url("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, sql); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}
