package timeline

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"
)

// sameAsJSON holds the quick readers against encoding/json and strictJSON, and
// says which of them were sure.
func sameAsJSON(t *testing.T, b []byte) (line, event, private bool) {
	t.Helper()
	e, p, h, line := split(b)
	if line && utf8.Valid(b) {
		if err := strictJSON(b); err != nil {
			t.Fatalf("%s\nis taken apart, and is refused by the strict reader: %v", b, err)
		}
		var parts struct {
			E json.RawMessage `json:"e"`
			P json.RawMessage `json:"p"`
			H Hash            `json:"h"`
		}
		d := json.NewDecoder(bytes.NewReader(b))
		d.DisallowUnknownFields()
		if err := d.Decode(&parts); err != nil || !bytes.Equal(parts.E, e) || !bytes.Equal(parts.P, p) || (parts.P == nil) != (p == nil) || parts.H != h {
			t.Fatalf("%s\nis taken apart as %s, %s, %s; encoding/json: %s, %s, %s, %v", b, e, p, h, parts.E, parts.P, parts.H, err)
		}
	}
	// Each part for itself, and the whole as if it were one.
	for _, part := range [][]byte{e, b} {
		ev, ok := readEvent(part)
		if !ok {
			continue
		}
		event = true
		var want Event
		if err := json.Unmarshal(part, &want); err != nil || !reflect.DeepEqual(ev, want) {
			t.Fatalf("%s\nreads as\n%#v\nand by encoding/json as\n%#v, %v", part, ev, want, err)
		}
	}
	for _, part := range [][]byte{p, b} {
		texts, ok := readPrivate(part)
		if !ok {
			continue
		}
		private = true
		var want Private
		if err := json.Unmarshal(part, &want); err != nil || !reflect.DeepEqual(texts, want) {
			t.Fatalf("%s\nreads as %q, and by encoding/json as %q, %v", part, texts, want, err)
		}
	}
	return line, event, private
}

// TestQuickReaders: what this program writes is read in one pass, and is what
// encoding/json reads.
func TestQuickReaders(t *testing.T) {
	lines, corrections := 0, 0
	for _, l := range readGolden(t) {
		for _, private := range []bool{true, false} {
			line, event, part := sameAsJSON(t, l.Bytes(private))
			plain := !bytes.Contains(l.Bytes(private), []byte(`\`)) && l.Event.V == Envelope
			if !plain {
				continue
			}
			lines++
			if len(l.Event.Replaces) > 0 {
				corrections++
			}
			if !line || !event || part != (private && l.P != nil) {
				t.Errorf("%s\nis read the slow way: line %t, event %t, private part %t", l.Bytes(private), line, event, part)
			}
		}
	}
	if lines < 50 || corrections == 0 {
		t.Errorf("%d lines and %d corrections were read", lines, corrections)
	}
}

// oddJSON is what the quick readers may be tempted by.
func oddJSON(t testing.TB) []string {
	line := sealed(t, event)
	all := []string{line, event, `{}`, `{"a":"b"}`, `{"a":"b","a":"c"}`, `{"a":"\u00e9"}`, `{"a":"` + "\xff" + `"}`, `{"a":null}`, `{"é":"b"}`, `{"a":"b"}x`,
		changed(t, line, `"seq":1`, `"seq":01`), changed(t, line, `"seq":1`, `"seq":-0`), changed(t, line, `"seq":1`, `"seq":1e2`),
		changed(t, line, `"seq":1`, `"seq":999999999999999999`), changed(t, line, `"seq":1`, `"seq":9999999999999999999`), changed(t, line, `"seq":1`, `"seq":1.0`),
		changed(t, line, `"70 /min"`, `"\ud800"`), changed(t, line, `"70 /min"`, `"\x"`), changed(t, line, `"70 /min"`, "\"\t\""), changed(t, line, `"70 /min"`, `[1,-2,true,null,"\n"]`),
		changed(t, line, `"70 /min"`, `[1,]`), changed(t, line, `"70 /min"`, `-`), changed(t, line, `"70 /min"`, `{"a":{},"a":{}}`), changed(t, line, `"70 /min"`, `{"A":1}`),
		changed(t, line, `"70 /min"`, strings.Repeat("[", 29)+strings.Repeat("]", 29)), changed(t, line, `"70 /min"`, strings.Repeat("[", 40)+strings.Repeat("]", 40)),
		changed(t, line, `"kind"`, `"Kind"`), changed(t, line, `,"h"`, `,"p":{"text":"x"},"h"`), changed(t, line, `,"h"`, `,"p":{},"h"`), changed(t, line, `,"h"`, ` ,"h"`),
		changed(t, line, `"pulse":"70 /min"}`, `"pulse":"70 /min"},"replaces":[]`), changed(t, line, `"pulse":"70 /min"}`, `"pulse":"70 /min"},"replaces":["a","b"],"reason":"x"`),
		changed(t, line, `"pulse":"70 /min"}`, `"pulse":"70 /min"},"reason":"x","amends":"y"`), line + line, line[:len(line)-1], strings.ReplaceAll(line, `2026-03-02T08:00:00`, ``),
	}
	var many []string
	for i := range mostNames + 1 {
		many = append(many, `"`+strings.Repeat("x", i+1)+`":1`)
	}
	return append(all, changed(t, line, `"70 /min"`, `{`+strings.Join(many, ",")+`}`), changed(t, line, `"70 /min"`, `{`+strings.Join(many, ",")+`,"x":2}`))
}

func TestQuickReadersAreNeverOfAnotherOpinion(t *testing.T) {
	for _, s := range oddJSON(t) {
		sameAsJSON(t, []byte(s))
	}
	// Cut anywhere, and with any byte another.
	line := changed(t, sealed(t, event), `,"h"`, `,"p":{"text":"x"},"h"`)
	for i := range len(line) {
		sameAsJSON(t, []byte(line[:i]))
		for _, c := range []byte("\"\\{}[],:0 A\x00\xff") {
			b := []byte(line)
			b[i] = c
			sameAsJSON(t, b)
		}
	}
}

func FuzzQuickReaders(f *testing.F) {
	for _, l := range readGolden(f) {
		f.Add(l.Bytes(true))
		f.Add(l.E)
	}
	for _, s := range oddJSON(f) {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) { sameAsJSON(t, b) })
}
