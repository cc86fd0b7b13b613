package ui

import (
	"crypto/subtle"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net"
	"net/http"
	"strings"
)

// Policy is the Content-Security-Policy of every page. It lets a page load its own script, style and pictures, and talk to its
// own origin: nothing else.
const Policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; " +
	"base-uri 'self'; form-action 'none'; frame-ancestors 'none'"

// maxSend bounds one tap: the longest is a note.
const maxSend = 1 << 18

// Handler serves the screens on loopback HTTP, for a desk. Every path begins
// with the start token, which only the printed address holds: another user or
// page of this computer cannot guess it. Host must be a loopback address, and
// a tap must come from the companion's own page.
func (u *UI) Handler(token string) http.Handler {
	u.takesPhotos = true
	prefix := "/" + token + "/"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", Policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		if !loopback(r.Host) {
			http.Error(w, "this companion answers on this computer only", http.StatusForbidden)
			return
		}
		given := r.URL.Path
		if len(given) < len(prefix) || subtle.ConstantTimeCompare([]byte(given[:len(prefix)]), []byte(prefix)) != 1 {
			http.Error(w, "open the address that the companion printed when it started", http.StatusForbidden)
			return
		}
		rest := given[len(prefix)-1:]
		switch {
		case r.Method == http.MethodGet || r.Method == http.MethodHead:
			target := rest
			if r.URL.RawQuery != "" {
				target += "?" + r.URL.RawQuery
			}
			p := u.Get(r.Context(), target)
			h.Set("Content-Type", p.Type)
			if p.Name != "" {
				h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": p.Name}))
			}
			w.WriteHeader(p.Status)
			if r.Method == http.MethodGet {
				_, _ = w.Write(p.Body) // the reader went away: nothing to do
			}
		case r.Method == http.MethodPost && rest == "/photo":
			u.servePhoto(w, r, r.URL.Query())
		case r.Method == http.MethodPost && rest == "/take-in":
			u.serveTakeIn(w, r)
		case r.Method == http.MethodPost && rest == "/send":
			u.serveSend(w, r)
		default:
			http.Error(w, "only GET, and POST to send", http.StatusMethodNotAllowed)
		}
	})
}

func (u *UI) serveSend(w http.ResponseWriter, r *http.Request) {
	if o := r.Header.Get("Origin"); o != "http://"+r.Host {
		http.Error(w, "a tap must come from the companion's own page", http.StatusForbidden)
		return
	}
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "application/json") {
		http.Error(w, "a tap is sent as application/json", http.StatusUnsupportedMediaType)
		return
	}
	a := u.sendJSON(r)
	status := http.StatusOK
	if a.Problem != nil {
		status = a.Problem.Status
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(a.JSON()) // the reader went away: the tap is recorded all the same
}

// sendJSON reads a tap from a request and answers it.
func (u *UI) sendJSON(r *http.Request) Answer {
	var s Send
	d := json.NewDecoder(http.MaxBytesReader(nil, r.Body, maxSend))
	d.DisallowUnknownFields()
	err := d.Decode(&s)
	if err == nil {
		if _, more := d.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("the tap goes on after its end")
		}
	}
	if err != nil {
		return Answer{Seq: u.c.Stored(), Problem: &Problem{Status: 400, Code: "not-readable", Words: u.words.Say("shell.not-readable")}}
	}
	return u.Send(r.Context(), s)
}

// loopback reports that a Host header names this computer by address or by
// the name localhost: another name could be one that a stranger's page made
// to point here.
func loopback(host string) bool {
	name, _, err := net.SplitHostPort(host)
	if err != nil {
		name = host
	}
	name = strings.Trim(name, "[]")
	if name == "localhost" {
		return true
	}
	ip := net.ParseIP(name)
	return ip != nil && ip.IsLoopback()
}
