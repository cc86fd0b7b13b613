package main

import (
	"context"
	"crypto/rand"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"strconv"
	"syscall"
	"time"

	"chinlift/core"
	"chinlift/mobile/keep"
	"chinlift/mobile/ui"
	"chinlift/sync/plain"
)

const (
	defaultHost = "127.0.0.1"
	defaultPort = 7343 // nothing is registered there; house choice
	portsTried  = 20   // further ones, when somebody has that one already

	// How long a page that is being answered may hold up the end. House
	// choice: the longest is a PDF.
	stopWithin = 10 * time.Second
)

// serve opens the companion and answers a browser until the context ends.
func (c *command) serve(ctx context.Context, args []string) (err error) {
	fs, data := c.flags("serve")
	addr := fs.String("addr", "", "")
	invented := fs.Bool("demo", false, "")
	if _, err := c.parse(fs, args, 0); err != nil {
		return err
	}
	if err := c.checkAddr(*addr); err != nil {
		return err
	}
	dir, err := c.folder(*data)
	if err != nil {
		return err
	}
	if *invented && *data == "" {
		dir += demoSuffix
	}
	companion, err := c.open(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, companion.Close()) }()
	if *invented {
		if err := c.demo(ctx, companion, dir); err != nil {
			return err
		}
	}
	screens, err := ui.New(companion)
	if err != nil {
		return err
	}
	screens.Lend(plain.Maker{Source: companion, Now: func() time.Time { return companion.Now().Wall }})
	places, err := placesOf(dir)
	sending, bad := keep.NewSender(keep.SenderOptions{Companion: companion, Data: dir, File: places, Kinds: ui.PlaceKinds})
	if err = errors.Join(err, bad); err != nil {
		printLine(c.err, c.words.Say("desk.places-not-read", "error", err.Error()))
	}
	screens.LendSender(sending)
	intake := keep.NewIntake(companion, dir, core.SystemClock())
	defer intake.Rest()
	screens.LendTaker(intake)
	listener, err := c.listen(ctx, *addr)
	if err != nil {
		return err
	}
	// It ends before the companion is closed.
	defer sending.Start(ctx)()
	token := rand.Text()
	server := &http.Server{
		Handler:           screens.Handler(token),
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		// What a browser gets wrong in its requests is no news for the terminal.
		ErrorLog: log.New(io.Discard, "", 0),
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	printLine(c.out, c.words.Say("desk.open", "address", "http://"+listener.Addr().String()+"/"+token+"/"))

	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	// What is being recorded is finished and answered; then it is closed.
	late, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopWithin)
	defer cancel()
	if err := server.Shutdown(late); err != nil {
		return errors.Join(err, server.Close())
	}
	printLine(c.out, c.words.Say("desk.closed"))
	return nil
}

// checkAddr refuses an address on which other computers could reach the
// companion: nothing between them and it is encrypted.
func (c *command) checkAddr(addr string) error {
	if addr == "" {
		return nil
	}
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return usageError(c.words.Say("desk.bad-address", "address", addr))
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return usageError(c.words.Say("desk.bad-address", "address", addr))
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return usageError(c.words.Say("desk.not-here", "address", addr))
	}
	return nil
}

// listen takes the address that was asked for; when none was, the first that
// is free.
func (c *command) listen(ctx context.Context, addr string) (net.Listener, error) {
	var lc net.ListenConfig
	if addr != "" {
		l, err := lc.Listen(ctx, "tcp", addr)
		if err != nil {
			return nil, c.cannot(addr, err)
		}
		if a, ok := l.Addr().(*net.TCPAddr); !ok || !a.IP.IsLoopback() {
			// The name localhost was made to mean something else.
			return nil, errors.Join(usageError(c.words.Say("desk.not-here", "address", addr)), l.Close())
		}
		return l, nil
	}
	for port := defaultPort; ; port++ {
		if port > defaultPort+portsTried {
			port = 0 // any
		}
		at := net.JoinHostPort(defaultHost, strconv.Itoa(port))
		l, err := lc.Listen(ctx, "tcp", at)
		if err == nil {
			return l, nil
		}
		if port == 0 || !errors.Is(err, syscall.EADDRINUSE) {
			return nil, c.cannot(at, err)
		}
	}
}
