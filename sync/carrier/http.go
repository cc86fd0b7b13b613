package carrier

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"time"
)

// Secret is what a server asks for. It comes from the device's key store and
// is held in memory only.
type Secret struct{ User, Password string }

// Web says how a server is reached.
type Web struct {
	Base   string // https://host/path; http only on this very device
	Secret Secret
	Roots  *x509.CertPool // whom to trust; nil: whom the system trusts

	// Silence ends a request on which nothing moves for so long; 0: 90 s
	// (house choice: a slow satellite link still answers within it).
	Silence time.Duration
}

const silence = 90 * time.Second

// ErrNotSafe says that an address would be spoken to in the clear.
var ErrNotSafe = errors.New("the address must begin with https://")

// open checks the address and makes the client. Certificates are always
// checked. Redirects are not followed: a login page sends them.
func (w Web) open() (*url.URL, *http.Client, error) {
	u, err := url.Parse(w.Base)
	if err != nil || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return nil, nil, fmt.Errorf("%q is not an address such as https://host/path", w.Base)
	}
	if u.Scheme != "https" && (u.Scheme != "http" || !loopback(u.Hostname())) {
		return nil, nil, ErrNotSafe
	}
	if w.Silence == 0 {
		w.Silence = silence
	}
	dialer := &net.Dialer{Timeout: w.Silence}
	t := &http.Transport{
		Proxy:                 http.ProxyFromEnvironment,
		TLSClientConfig:       &tls.Config{RootCAs: w.Roots, MinVersion: tls.VersionTLS12},
		TLSHandshakeTimeout:   w.Silence,
		ResponseHeaderTimeout: w.Silence,
		DisableCompression:    true,
		ForceAttemptHTTP2:     false,
		MaxIdleConnsPerHost:   1,
		DialContext: func(ctx context.Context, network, address string) (net.Conn, error) {
			c, err := dialer.DialContext(ctx, network, address)
			if err != nil {
				return nil, err
			}
			return &watched{Conn: c, silence: w.Silence}, nil
		},
	}
	return u, &http.Client{Transport: t, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}, nil
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// watched is a connection that ends when nothing moves on it. Reading and
// writing each start the wait anew.
type watched struct {
	net.Conn
	silence time.Duration
}

// within closes the connection when f takes too long. Deadlines would need
// the clock.
func (c *watched) within(f func() (int, error)) (int, error) {
	t := time.AfterFunc(c.silence, func() { _ = c.Close() })
	defer t.Stop()
	return f()
}

func (c *watched) Read(b []byte) (int, error) {
	return c.within(func() (int, error) { return c.Conn.Read(b) })
}

func (c *watched) Write(b []byte) (int, error) {
	return c.within(func() (int, error) { return c.Conn.Write(b) })
}

// statusCode makes a code of what a server answered.
func statusCode(status int) Code {
	switch {
	case status == http.StatusNotFound || status == http.StatusGone:
		return CodeNotFound
	case status == http.StatusPreconditionFailed:
		return CodeExists
	case status == http.StatusConflict:
		return CodeMissing // a folder above it is not there
	case status == http.StatusInsufficientStorage:
		return CodeFull
	case status == http.StatusRequestEntityTooLarge:
		return CodeTooLarge
	case status == http.StatusUnauthorized || status == http.StatusForbidden || status == http.StatusMethodNotAllowed || status == http.StatusUnavailableForLegalReasons:
		return CodeRefused
	case status == http.StatusNetworkAuthenticationRequired || status >= 200 && status < 400:
		return CodeForeign // success that is none, or a way to somewhere else
	case status == http.StatusTooManyRequests || status == http.StatusRequestTimeout || status == http.StatusLocked || status >= 500:
		return CodeBusy
	}
	return CodeBroken
}

// wayCode makes a code of a failure on the way.
func wayCode(err error) Code {
	var unknown x509.UnknownAuthorityError
	var host x509.HostnameError
	var invalid x509.CertificateInvalidError
	var verify *tls.CertificateVerificationError
	var record tls.RecordHeaderError
	if errors.As(err, &unknown) || errors.As(err, &host) || errors.As(err, &invalid) || errors.As(err, &verify) || errors.As(err, &record) {
		return CodeForeign
	}
	return CodeOffline
}

// way makes the error of a failure on the way; a context that ended stays what
// it is.
func way(ctx context.Context, op, name string, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return &Error{Code: wayCode(err), Op: op, Name: name, Err: err}
}

// drain reads what is left of an answer, within reason, so that the connection
// can serve again.
func drain(r *http.Response) {
	_, _ = io.Copy(io.Discard, io.LimitReader(r.Body, 64<<10))
	_ = r.Body.Close() // read to its end, or given up
}
