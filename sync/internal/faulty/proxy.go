// Package faulty stands between a carrier and a real server and breaks what
// passes, in the ways in which a clinic's connection breaks. It is for tests
// and in no program.
package faulty

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httputil"
	"net/url"
	"strconv"
	"sync"
)

// Kind is one way to break.
type Kind int

// The kinds. Those with a number N in them take it from Fault.At.
const (
	None         Kind = iota
	CutRequest        // the connection ends after N bytes of the request's body; the server sees a short one
	CutAnswer         // it ends after N bytes of the answer's body
	LostAnswer        // the server does all of it, and nothing comes back
	Status            // the status N comes back, and the server sees nothing
	StatusAfter       // the server does all of it, and the status N comes back
	LoginPage         // 200 and a page of somebody else
	Elsewhere         // a redirect to a page of somebody else
	WrongLength       // the answer says that it is N bytes longer than it is
	WrongContent      // one byte of the answer's body is another
	WrongUpload       // one byte of the request's body is another when the server sees it
	Stall             // nothing comes back until the other side gives up
	Kinds             // how many there are
)

// Fault is what to do with one request.
type Fault struct {
	Kind Kind
	At   int
}

// Proxy passes requests on to a server, each by the fault that Next gives for
// it.
type Proxy struct {
	Target *url.URL
	Next   func(r *http.Request) Fault

	mu     sync.Mutex
	counts map[Kind]int
}

// Counts gives how often each fault was put in.
func (p *Proxy) Counts() map[Kind]int {
	p.mu.Lock()
	defer p.mu.Unlock()
	all := map[Kind]int{}
	for k, n := range p.counts {
		all[k] = n
	}
	return all
}

// loginPage is what a network says that wants a password first.
const loginPage = "<!doctype html><title>Welcome</title><form method=post>Your room and your name</form>"

// abort ends the connection without an answer, or in the middle of one.
func abort() { panic(http.ErrAbortHandler) }

// ServeHTTP passes one request on.
func (p *Proxy) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	f := Fault{}
	if p.Next != nil {
		f = p.Next(r)
	}
	p.mu.Lock()
	if p.counts == nil {
		p.counts = map[Kind]int{}
	}
	p.counts[f.Kind]++
	p.mu.Unlock()

	body, err := io.ReadAll(r.Body)
	if err != nil {
		abort()
	}
	switch f.Kind {
	case Status:
		w.WriteHeader(f.At)
		return
	case LoginPage:
		w.Header().Set("Content-Type", "text/html")
		_, _ = io.WriteString(w, loginPage)
		return
	case Elsewhere:
		http.Redirect(w, r, "/login", http.StatusFound)
		return
	case Stall:
		<-r.Context().Done()
		abort()
	case WrongUpload:
		if len(body) > 0 {
			body = bytes.Clone(body)
			body[f.At%len(body)] ^= 0x20
		}
	}
	answer := &recorder{head: http.Header{}, status: http.StatusOK}
	p.pass(answer, r, body, f)
	switch f.Kind {
	case LostAnswer, CutRequest:
		abort()
	case StatusAfter:
		w.WriteHeader(f.At)
		return
	}
	data := answer.body.Bytes()
	for k, v := range answer.head {
		w.Header()[k] = v
	}
	w.Header().Del("Transfer-Encoding")
	if r.Method != http.MethodHead {
		w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	}
	if f.Kind == WrongLength && r.Method != http.MethodHead {
		w.Header().Set("Content-Length", strconv.Itoa(len(data)+1+f.At))
	}
	if f.Kind == WrongContent && len(data) > 0 {
		data[f.At%len(data)] ^= 0x20
	}
	if answer.status == http.StatusNoContent || answer.status == http.StatusNotModified {
		w.Header().Del("Content-Length")
	}
	w.WriteHeader(answer.status)
	if f.Kind == CutAnswer {
		data = data[:min(f.At, len(data))]
	}
	_, _ = w.Write(data)
	if f.Kind == CutAnswer || f.Kind == WrongLength {
		if fl, ok := w.(http.Flusher); ok {
			fl.Flush()
		}
		abort()
	}
}

// pass sends the request on and keeps the answer.
func (p *Proxy) pass(to *recorder, r *http.Request, body []byte, f Fault) {
	length := int64(len(body))
	if f.Kind == CutRequest {
		body = body[:min(f.At, len(body))]
	}
	out := r.Clone(r.Context())
	out.Body, out.ContentLength = io.NopCloser(bytes.NewReader(body)), length
	if f.Kind == CutRequest && int64(len(body)) < length {
		out.Body = io.NopCloser(io.MultiReader(bytes.NewReader(body), cut{}))
	}
	rp := httputil.ReverseProxy{
		Rewrite: func(pr *httputil.ProxyRequest) {
			pr.SetURL(p.Target)
			pr.Out.Host = pr.In.Host // it is part of what is signed
			if d := pr.Out.Header.Get("Destination"); d != "" {
				if u, err := url.Parse(d); err == nil {
					u.Scheme, u.Host = p.Target.Scheme, pr.In.Host
					pr.Out.Header.Set("Destination", u.String())
				}
			}
		},
		ErrorHandler: func(w http.ResponseWriter, _ *http.Request, _ error) { w.WriteHeader(http.StatusBadGateway) },
	}
	rp.ServeHTTP(to, out)
}

// cut is a body that breaks off.
type cut struct{}

func (cut) Read([]byte) (int, error) { return 0, io.ErrUnexpectedEOF }

// recorder keeps an answer.
type recorder struct {
	head   http.Header
	status int
	wrote  bool
	body   bytes.Buffer
}

func (r *recorder) Header() http.Header { return r.head }

func (r *recorder) WriteHeader(status int) {
	if !r.wrote && status >= 200 {
		r.status, r.wrote = status, true
	}
}

func (r *recorder) Write(b []byte) (int, error) {
	r.WriteHeader(http.StatusOK)
	return r.body.Write(b)
}
