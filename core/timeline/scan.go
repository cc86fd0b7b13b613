package timeline

import (
	"unicode/utf8"

	"chinlift/core/term"
)

// What is read most is what this program wrote: one member after the other,
// nothing between them, hardly an escape. These readers take that form in one
// pass and answer false for any other, which is then left to encoding/json:
// they may be unsure, and are never of another opinion. A fuzz target holds
// them against it.

// scan walks JSON text.
type scan struct {
	b  []byte
	at int
}

// text passes over exactly this.
func (s *scan) text(t string) bool {
	if len(s.b)-s.at < len(t) || string(s.b[s.at:s.at+len(t)]) != t {
		return false
	}
	s.at += len(t)
	return true
}

// byte passes over this byte.
func (s *scan) byte(c byte) bool {
	if s.at >= len(s.b) || s.b[s.at] != c {
		return false
	}
	s.at++
	return true
}

// plain passes over a string of plain ASCII without an escape, and gives where
// its content begins and ends.
func (s *scan) plain() (from, to int, ok bool) {
	if !s.byte('"') {
		return 0, 0, false
	}
	for from = s.at; s.at < len(s.b); s.at++ {
		switch c := s.b[s.at]; {
		case c == '"':
			s.at++
			return from, s.at - 1, true
		case c < ' ' || c > '~' || c == '\\':
			return 0, 0, false
		}
	}
	return 0, 0, false
}

// whole passes over an integer of at most 18 digits.
func (s *scan) whole() (n int64, ok bool) {
	minus := s.byte('-')
	from := s.at
	for ; s.at < len(s.b) && s.b[s.at] >= '0' && s.b[s.at] <= '9'; s.at++ {
		if s.at-from == 18 {
			return 0, false
		}
		n = 10*n + int64(s.b[s.at]-'0')
	}
	if digits := s.at - from; digits == 0 || digits > 1 && s.b[from] == '0' {
		return 0, false
	}
	if minus {
		n = -n
	}
	return n, s.at < len(s.b) && (s.b[s.at] == ',' || s.b[s.at] == '}')
}

// mostNames bounds the names of an object that are looked at for repeats.
const mostNames = 24

// value passes over a value in which no name stands twice and none is in
// capitals; see strictJSON.
func (s *scan) value(depth int) bool {
	if s.at >= len(s.b) || depth > 32 {
		return false
	}
	switch c := s.b[s.at]; {
	case c == '"':
		return s.str()
	case c == '{':
		return s.object(depth)
	case c == '[':
		s.at++
		if s.byte(']') {
			return true
		}
		for s.value(depth + 1) {
			if s.byte(']') {
				return true
			}
			if !s.byte(',') {
				return false
			}
		}
		return false
	case c == 't':
		return s.text("true")
	case c == 'f':
		return s.text("false")
	case c == 'n':
		return s.text("null")
	}
	// A number that is more than an integer is rare: payloads have none.
	if s.byte('-') && s.at >= len(s.b) {
		return false
	}
	from := s.at
	for s.at < len(s.b) && s.b[s.at] >= '0' && s.b[s.at] <= '9' {
		s.at++
	}
	digits := s.at - from
	return digits > 0 && (digits == 1 || s.b[from] != '0') && s.at < len(s.b) && (s.b[s.at] == ',' || s.b[s.at] == '}' || s.b[s.at] == ']')
}

func (s *scan) object(depth int) bool {
	s.at++
	if s.byte('}') {
		return true
	}
	var names [mostNames][2]int
	for n := 0; n < mostNames; n++ {
		from, to, ok := s.plain()
		if !ok || !s.byte(':') {
			return false
		}
		for i := from; i < to; i++ {
			if s.b[i] >= 'A' && s.b[i] <= 'Z' {
				return false
			}
		}
		for _, o := range names[:n] {
			if string(s.b[o[0]:o[1]]) == string(s.b[from:to]) {
				return false
			}
		}
		names[n] = [2]int{from, to}
		if !s.value(depth + 1) {
			return false
		}
		if s.byte('}') {
			return true
		}
		if !s.byte(',') {
			return false
		}
	}
	return false
}

// str passes over any string. That it is UTF-8 is seen to elsewhere.
func (s *scan) str() bool {
	for s.at++; s.at < len(s.b); s.at++ {
		switch c := s.b[s.at]; {
		case c == '"':
			s.at++
			return true
		case c < ' ':
			return false
		case c == '\\':
			s.at++
			if s.at >= len(s.b) {
				return false
			}
			switch s.b[s.at] {
			case '"', '\\', '/', 'b', 'f', 'n', 'r', 't':
			default:
				return false // a character by its number
			}
		}
	}
	return false
}

// split takes a line apart that is {"e":…,"p":…,"h":"…"} with nothing between,
// and as strict as strictJSON wants it, but for UTF-8.
func split(b []byte) (e, p []byte, h Hash, ok bool) {
	s := scan{b: b}
	part := func() []byte {
		from := s.at
		if s.at >= len(b) || b[s.at] != '{' || !s.value(1) {
			return nil
		}
		return b[from:s.at:s.at]
	}
	if !s.text(`{"e":`) {
		return nil, nil, "", false
	}
	if e = part(); e == nil {
		return nil, nil, "", false
	}
	if s.text(`,"p":`) {
		if p = part(); p == nil {
			return nil, nil, "", false
		}
	}
	if !s.text(`,"h":`) {
		return nil, nil, "", false
	}
	from, to, ok := s.plain()
	if !ok || !s.byte('}') || s.at != len(b) {
		return nil, nil, "", false
	}
	return e, p, Hash(b[from:to]), true
}

// readEvent reads an envelope whose members stand in the order in which they
// are written. Its texts are parts of one copy of e, its data a part of e.
func readEvent(e []byte) (ev Event, ok bool) {
	s := scan{b: e}
	all := string(e)
	text := func(before string) string {
		if !ok || !s.text(before) {
			ok = false
			return ""
		}
		var from, to int
		from, to, ok = s.plain()
		return all[from:to]
	}
	number := func(before string) (n int64) {
		if !ok || !s.text(before) {
			ok = false
			return 0
		}
		n, ok = s.whole()
		return n
	}
	moment := func(before string) (m Moment) {
		t := text(before)
		if !ok || t == "" {
			ok = false
			return m
		}
		m, err := ParseMoment(t)
		ok = err == nil
		return m
	}
	next := func(before string) bool {
		return ok && len(e)-s.at >= len(before) && all[s.at:s.at+len(before)] == before
	}

	ok = true
	ev.V = int(number(`{"v":`))
	ev.ID = text(`,"id":`)
	ev.Log = text(`,"log":`)
	ev.Seq = number(`,"seq":`)
	ev.Tick = number(`,"tick":`)
	ev.Prev = Hash(text(`,"prev":`))
	ev.Scope = Scope(text(`,"scope":`))
	ev.About = text(`,"about":`)
	ev.At = moment(`,"at":`)
	ev.Entered.Wall = moment(`,"entered":{"wall":`)
	ev.Entered.SinceBootMS = number(`,"since_boot_ms":`)
	ev.Entered.Boot = text(`,"boot":`)
	ev.Author = text(`},"author":`)
	ev.Kind = Kind(text(`,"kind":`))
	if !ok || !s.text(`,"data":`) {
		return Event{}, false
	}
	from := s.at
	if ok = s.value(1); !ok {
		return Event{}, false
	}
	ev.Data = e[from:s.at:s.at]
	if next(`,"amends":`) {
		ev.Amends = text(`,"amends":`)
	}
	if next(`,"replaces":[`) {
		for before := `,"replaces":[`; ok && before != ""; {
			ev.Replaces = append(ev.Replaces, text(before))
			if before = ","; s.byte(']') {
				before = ""
			}
		}
	}
	if next(`,"reason":`) {
		ev.Reason = term.Reason(text(`,"reason":`))
	}
	if next(`,"private":`) {
		ev.Private = text(`,"private":`)
	}
	if !ok || !s.byte('}') || s.at != len(e) {
		return Event{}, false
	}
	return ev, true
}

// readPrivate reads a private part whose texts have no escape.
func readPrivate(p []byte) (Private, bool) {
	s := scan{b: p}
	if !s.byte('{') {
		return nil, false
	}
	all, parts := string(p), Private{}
	for {
		from, to, ok := s.plain()
		if !ok || !s.byte(':') || !s.byte('"') {
			return nil, false
		}
		begin := s.at
		for ; s.at < len(p) && p[s.at] != '"'; s.at++ {
			if p[s.at] < ' ' || p[s.at] == '\\' {
				return nil, false
			}
		}
		end := s.at
		if !s.byte('"') || !utf8.ValidString(all[begin:end]) {
			return nil, false
		}
		parts[all[from:to]] = all[begin:end]
		if s.byte('}') {
			return parts, s.at == len(p)
		}
		if !s.byte(',') {
			return nil, false
		}
	}
}
