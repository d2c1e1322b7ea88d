package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"coldrise/api"
	"coldrise/domain/problem"
	"coldrise/repo"
)

const defaultListen = "127.0.0.1:8173"

// The server's time limits. A plan may take api.DefaultPlanTime; an answer has
// that and some more.
const (
	headerTime = 5 * time.Second
	readTime   = 30 * time.Second
	writeTime  = api.DefaultPlanTime + 30*time.Second
	idleTime   = 2 * time.Minute
	// graceTime is how long requests may go on after the first signal.
	graceTime = 15 * time.Second
	// lastTime is how long they have to stop after being told to.
	lastTime = 5 * time.Second
	// maxHeader bounds the header of a request, in bytes.
	maxHeader = 16 << 10
)

// serveFlags are the flags of coldrise serve.
type serveFlags struct {
	listen, db  string
	behindProxy bool
	hosts       hostList
}

// hostList is a flag that may be given again.
type hostList []string

func (h *hostList) String() string { return strings.Join(*h, ",") }

func (h *hostList) Set(name string) error {
	if name == "" || strings.ContainsAny(name, "/:@ ") {
		return errors.New("a host is a bare name, without scheme and port")
	}
	*h = append(*h, name)
	return nil
}

func (a *app) serve(ctx context.Context, args []string) (int, error) {
	f, err := a.serveFlags(args)
	if err != nil {
		return 0, err
	}
	store, err := a.open(ctx, f.db)
	if err != nil {
		return 0, err
	}
	err = a.serveStore(ctx, store, f)
	if closeErr := store.Close(); err == nil {
		err = closeErr
	}
	return exitMade, err
}

func (a *app) serveFlags(args []string) (serveFlags, error) {
	var f serveFlags
	set := flag.NewFlagSet("serve", flag.ContinueOnError)
	set.StringVar(&f.listen, "listen", defaultListen, "`ADDRESS` to listen at")
	a.dbFlag(set, &f.db)
	set.BoolVar(&f.behindProxy, "behind-authenticating-proxy", false,
		"allow an address other machines can reach: a proxy in front asks who is there, and nothing else reaches it")
	set.Var(&f.hosts, "host", "a further host `NAME` to answer for, as the proxy passes it on; may be repeated")
	if _, err := a.flags(set, args, 0, 0); err != nil {
		return f, err
	}
	if !f.behindProxy && !loopback(f.listen) {
		return f, usageError{fmt.Sprintf("%s can be reached from other machines, and coldrise asks nobody who they are; "+
			"give --behind-authenticating-proxy if a proxy in front does", f.listen)}
	}
	return f, nil
}

// loopback says whether an address to listen at is this machine's alone. A
// name other than localhost is not looked up: what it means may change.
func loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	if host == "localhost" {
		return true
	}
	ip, err := netip.ParseAddr(host)
	return err == nil && ip.IsLoopback()
}

// serveStore serves until ctx ends, then lets requests finish.
func (a *app) serveStore(ctx context.Context, store repo.Store, f serveFlags) error {
	log := slog.New(slog.NewJSONHandler(a.stderr, nil))
	handler, err := api.New(api.Config{Store: store, Logger: log, Hosts: f.hosts, Stopping: ctx.Done(),
		Limits: api.Limits{PlanSamples: a.draws()}})
	if err != nil {
		return problem.Wrap(err, "setting up the interface")
	}
	listener, err := net.Listen("tcp", f.listen)
	if err != nil {
		return problem.New(problem.Invalid, "cannot listen at %s: %v", f.listen, err)
	}
	requests, stopRequests := context.WithCancel(context.WithoutCancel(ctx))
	defer stopRequests()
	server := &http.Server{
		Handler: handler, ReadHeaderTimeout: headerTime, ReadTimeout: readTime, WriteTimeout: writeTime, IdleTimeout: idleTime,
		MaxHeaderBytes: maxHeader, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn),
		BaseContext: func(net.Listener) context.Context { return requests },
	}
	fmt.Fprintf(a.stderr, "listening on http://%s\n", listener.Addr())
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	select {
	case err := <-failed:
		return problem.Wrap(err, "serving")
	case <-ctx.Done():
	}
	log.Info("stopping", "grace_s", graceTime.Seconds())
	return shutDown(server, stopRequests)
}

// shutDown lets requests finish for a while, then ends what they compute.
func shutDown(server *http.Server, stopRequests func()) error {
	grace, cancel := context.WithTimeout(context.Background(), graceTime)
	defer cancel()
	err := server.Shutdown(grace)
	if err == nil {
		return nil
	}
	stopRequests()
	last, cancelLast := context.WithTimeout(context.Background(), lastTime)
	defer cancelLast()
	if err = server.Shutdown(last); err != nil {
		_ = server.Close() // nothing more can be done for them
		return problem.Wrap(err, "stopping the server")
	}
	return nil
}
