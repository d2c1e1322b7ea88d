// Command coldrise plans the recap of a valve amplifier: on the command line,
// and as a server. It is the only place that names a database.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	// Once the first signal is being heeded, a second one ends the process at once.
	context.AfterFunc(ctx, stop)
	// A reader that goes away is an error of writing, so that what is temporary is still removed.
	signal.Ignore(syscall.SIGPIPE)
	a := app{stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, env: os.Getenv}
	os.Exit(a.run(ctx, os.Args[1:]))
}
