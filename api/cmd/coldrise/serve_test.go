package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

func TestLoopback(t *testing.T) {
	t.Parallel()
	tests := []struct {
		address string
		want    bool
	}{
		{"127.0.0.1:8173", true}, {"127.9.9.9:1", true}, {"[::1]:8173", true}, {"localhost:8173", true}, {"[::ffff:127.0.0.1]:1", true},
		{":8173", false}, {"0.0.0.0:8173", false}, {"[::]:8173", false}, {"192.168.1.2:8173", false}, {"bench.example:80", false},
		{"127.0.0.1", false}, {"", false}, {"localhost.evil.example:80", false},
	}
	for _, tt := range tests {
		if got := loopback(tt.address); got != tt.want {
			t.Errorf("%q: %v, want %v", tt.address, got, tt.want)
		}
	}
}

// served is a server in this process.
type served struct {
	url  string
	stop context.CancelFunc
	code chan int
}

// serve starts the command on a port of its own and waits until it listens.
func serve(t *testing.T, flags ...string) served {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	diag, w := io.Pipe()
	s := served{stop: stop, code: make(chan int, 1)}
	args := append([]string{"serve", "--listen", "127.0.0.1:0", "--db", filepath.Join(t.TempDir(), "shop.db")}, flags...)
	go func() {
		a := app{stdin: strings.NewReader(""), stdout: io.Discard, stderr: w, samples: fewSamples}
		s.code <- a.run(ctx, args)
		_ = w.Close() // a pipe's Close gives no error
	}()
	s.url = listening(t, diag)
	return s
}

// listening reads diagnostics until the address is named, then lets the rest pass.
func listening(t *testing.T, diag io.Reader) string {
	t.Helper()
	lines := bufio.NewScanner(diag)
	for lines.Scan() {
		if url, ok := strings.CutPrefix(lines.Text(), "listening on "); ok {
			go func() {
				for lines.Scan() {
				}
			}()
			return url
		}
	}
	t.Fatal("the server ended without listening")
	return ""
}

func get(t *testing.T, url string) (int, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), "GET", url, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = res.Body.Close() }()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(text)
}

func TestServeAnswersFromTheStarterCatalogueAndStops(t *testing.T) {
	t.Parallel()
	s := serve(t)
	if status, text := get(t, s.url+"/v1/parts?limit=1"); status != 200 || !strings.Contains(text, `"part_number"`) {
		t.Errorf("parts: %d %s", status, text)
	}
	if status, _ := get(t, s.url+"/readyz"); status != 200 {
		t.Errorf("readyz: %d", status)
	}
	s.stop()
	if code := <-s.code; code != exitMade {
		t.Errorf("exit code %d", code)
	}
	if _, err := net.DialTimeout("tcp", strings.TrimPrefix(s.url, "http://"), time.Second); err == nil {
		t.Error("the port is still open")
	}
}

// A request that is under way when the server is told to stop is answered.
func TestServeLetsARequestFinish(t *testing.T) {
	t.Parallel()
	s := serve(t)
	conn, head := halfRequest(t, s.url)
	s.stop()
	select {
	case code := <-s.code:
		t.Fatalf("the server ended with %d while a request was under way", code)
	case <-time.After(200 * time.Millisecond):
	}
	if _, err := io.WriteString(conn, ampJSON[head:]); err != nil {
		t.Fatal(err)
	}
	res, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		t.Fatal(err)
	}
	_ = res.Body.Close()
	if res.StatusCode != http.StatusCreated {
		t.Errorf("status %d", res.StatusCode)
	}
	if code := <-s.code; code != exitMade {
		t.Errorf("exit code %d", code)
	}
}

// halfRequest sends a request up to the middle of its body and gives how much
// of ampJSON has been sent. The server has read the header when it returns.
func halfRequest(t *testing.T, url string) (net.Conn, int) {
	t.Helper()
	address := strings.TrimPrefix(url, "http://")
	conn, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	head := len(ampJSON) / 2
	// 100-continue: the server answers that once its handler reads the body.
	_, err = fmt.Fprintf(conn, "POST /v1/amps HTTP/1.1\r\nHost: %s\r\nContent-Type: application/json\r\nExpect: 100-continue\r\nContent-Length: %d\r\n\r\n", address, len(ampJSON))
	if err != nil {
		t.Fatal(err)
	}
	want := "HTTP/1.1 100 Continue\r\n\r\n"
	got := make([]byte, len(want))
	if _, err := io.ReadFull(conn, got); err != nil || string(got) != want {
		t.Fatalf("%q, %v", got, err)
	}
	if _, err := io.WriteString(conn, ampJSON[:head]); err != nil {
		t.Fatal(err)
	}
	return conn, head
}

func TestServeOnAPortThatIsTaken(t *testing.T) {
	t.Parallel()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = listener.Close() }()
	got := run(t, "", "serve", "--listen", listener.Addr().String(), "--db", filepath.Join(t.TempDir(), "x.db"))
	if got.code != exitBadInput || !strings.Contains(got.stderr, "cannot listen at") {
		t.Errorf("exit code %d, stderr %q", got.code, got.stderr)
	}
}

// process starts this test binary as the command.
func process(t *testing.T) (*exec.Cmd, string) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), self, "serve", "--listen", "127.0.0.1:0", "--db", filepath.Join(t.TempDir(), "shop.db"))
	cmd.Env = append(os.Environ(), "COLDRISE_RUN_MAIN=1")
	diag, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, listening(t, diag)
}

func TestFirstSignalStopsGently(t *testing.T) {
	t.Parallel()
	cmd, _ := process(t)
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("ended with %v", err)
	}
}

func TestSecondSignalEndsAtOnce(t *testing.T) {
	t.Parallel()
	cmd, url := process(t)
	halfRequest(t, url) // keeps the first signal waiting for its grace
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	address := strings.TrimPrefix(url, "http://")
	for { // until the first signal has closed the listener
		conn, err := net.Dial("tcp", address)
		if err != nil {
			break
		}
		_ = conn.Close()
		time.Sleep(5 * time.Millisecond)
	}
	start := time.Now()
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	err := cmd.Wait()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.Sys().(syscall.WaitStatus).Signal() != syscall.SIGTERM {
		t.Errorf("ended with %v, want by the signal", err)
	}
	if took := time.Since(start); took > graceTime/2 {
		t.Errorf("took %v", took)
	}
}
