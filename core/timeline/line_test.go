package timeline

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"chinlift/core/term"
)

// sealed makes a line with a right hash from the text of an event, as another
// version of the program would.
func sealed(t testing.TB, e string) string {
	t.Helper()
	h, err := LineHash(NoHash, []byte(e))
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf(`{"e":%s,"h":"%s"}`, e, h)
}

// event is the text of a plain event, in which a test replaces a part.
var event = `{"v":1,"id":"` + number(anEvent, 1) + `","log":"` + number(aLog, 1) + `","seq":1,"tick":1,"prev":"` + string(NoHash) +
	`","scope":"case","about":"` + caseA + `","at":"2026-03-02T08:00:00+03:00[Etc/GMT-3]","entered":{"wall":"2026-03-02T08:00:01+03:00[Etc/GMT-3]",` +
	`"since_boot_ms":1000,"boot":"boot-1"},"author":"` + provider + `","kind":"vitals/1","data":{"pulse":"70 /min"}}`

func changed(t testing.TB, s, old, new string) string {
	t.Helper()
	if strings.Count(s, old) != 1 {
		t.Fatalf("%q stands %d times in %s", old, strings.Count(s, old), s)
	}
	return strings.Replace(s, old, new, 1)
}

func TestPlainLine(t *testing.T) {
	l := lineOf(t, sealed(t, event))
	if err := l.Verify(); err != nil {
		t.Error(err)
	}
	if v, ok := l.Payload.(*Vitals); !ok || v.Pulse != amount("70 /min") {
		t.Errorf("it says %#v", l.Payload)
	}
	if l.P != nil || l.Private != nil {
		t.Error("it has a private part")
	}
}

// TestNotUnderstoodIsKept: what another version wrote is kept as it was
// written, and says why it is not understood only where something is wrong.
func TestNotUnderstoodIsKept(t *testing.T) {
	tests := []struct {
		name, kind, data string
		why              bool
	}{
		{"unknown kind", "tide/1", `{"height":1.50,"moon":{"full":true}}`, false},
		{"newer version", "vitals/99", `{"pulse":{"count":70}}`, false},
		{"data of another shape", "vitals/1", `{"pulse":70}`, true},
		{"unit of another version", "vitals/1", `{"pulse":"70 furlongs"}`, true},
		{"out of bounds", "vitals/1", `{"pulse":"7000 /min"}`, true},
		{"code of another version", "phase/1", `{"phase":"hovering"}`, true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			text := sealed(t, changed(t, changed(t, event, "vitals/1", test.kind), `{"pulse":"70 /min"}`, test.data))
			l := lineOf(t, text)
			u, ok := l.Payload.(*Unknown)
			if !ok || string(u.As) != test.kind || u.Kind() != u.As || (u.Why != "") != test.why {
				t.Errorf("it reads as %#v", l.Payload)
			}
			if err := l.Verify(); err != nil {
				t.Error(err)
			}
			if string(l.Bytes(true)) != text {
				t.Errorf("it comes out as\n%s\nwant\n%s", l.Bytes(true), text)
			}
			if e := Fold([]*Line{&l}).Find(l.Event.ID); e == nil || e.Now().Payload != l.Payload {
				t.Error("the story does not show it")
			}
			var fault *FieldError
			if err := l.Payload.Check(); !errors.As(err, &fault) || fault.Field != "kind" {
				t.Errorf("it could be written anew: %v", err)
			}
		})
	}
}

// TestUnknownMembersAreKept byte for byte, spaces and order and spelling too.
func TestUnknownMembersAreKept(t *testing.T) {
	e := changed(t, event, `{"v":1,`, `{ "signature" : {"by":"\u006bey","n":1.50e+1, "of":[ ]} ,"v":2,`)
	e = changed(t, e, `{"pulse":"70 /min"}`, `{"mood":"calm","pulse":"70 \/min"}`)
	text := sealed(t, e)
	l := lineOf(t, text)
	if l.Event.V != 2 {
		t.Errorf("version %d of the envelope", l.Event.V)
	}
	if string(l.E) != e || string(l.Bytes(true)) != text {
		t.Errorf("it comes out as\n%s\nwant\n%s", l.Bytes(true), text)
	}
	if err := l.Verify(); err != nil {
		t.Error(err)
	}
	if v, ok := l.Payload.(*Vitals); !ok || v.Pulse != amount("70 /min") {
		t.Errorf("what is known of it reads as %#v", l.Payload)
	}
	// Spaces around the parts are not of the parts.
	spaced := lineOf(t, strings.NewReplacer(`{"e":`, " { \"e\" :\t", `,"h":`, ` , "h" : `).Replace(text)+" ")
	if string(spaced.Bytes(true)) != text {
		t.Errorf("with spaces around it comes out as\n%s\nwant\n%s", spaced.Bytes(true), text)
	}
}

func TestRefusedLines(t *testing.T) {
	plain := sealed(t, event)
	hash := string(lineOf(t, plain).H)
	deep := strings.Repeat("[", 40) + strings.Repeat("]", 40)
	tests := []struct{ name, line, says string }{
		{"nothing", "", "not JSON"},
		{"not JSON", "pulse 70", "not JSON"},
		{"cut off", plain[:len(plain)-10], "not JSON"},
		{"an array", "[" + plain + "]", "line is not"},
		{"null", "null", "no event"},
		{"e twice", changed(t, plain, `{"e":`, `{"e":{},"e":`), "twice"},
		{"h twice", changed(t, plain, `,"h"`, `,"h":"`+hash+`","h"`), "twice"},
		{"a member of the event twice", sealed(t, changed(t, event, `"seq":1`, `"seq":1,"seq":2`)), "twice"},
		{"twice by an escape", sealed(t, changed(t, event, `"seq":1`, `"seq":1,"s\u0065q":2`)), "twice"},
		{"a member of the data twice", sealed(t, changed(t, event, `{"pulse"`, `{"pulse":"60 /min","pulse"`)), "twice"},
		{"an unknown member twice, deep down", sealed(t, changed(t, event, `{"v":1`, `{"x":[{"y":{"a":1,"a":2}}],"v":1`)), "twice"},
		{"a member that differs by case", sealed(t, changed(t, event, `"seq":1`, `"seq":1,"Seq":2`)), "lower case"},
		{"a member that differs by a letter that folds", sealed(t, changed(t, event, `"seq":1`, `"seq":1,"ſeq":2`)), "lower case"},
		{"a part in capitals", changed(t, plain, `{"e":`, `{"E":`), "lower case"},
		{"p null", changed(t, plain, `,"h"`, `,"p":null,"h"`), "null"},
		{"p a text", changed(t, plain, `,"h"`, `,"p":"x","h"`), "private part"},
		{"p an array", changed(t, plain, `,"h"`, `,"p":[],"h"`), "private part"},
		{"p with a number", changed(t, plain, `,"h"`, `,"p":{"salt":1},"h"`), "private part"},
		{"an unknown part", changed(t, plain, `,"h"`, `,"x":1,"h"`), "unknown field"},
		{"a line feed", changed(t, plain, `,"h"`, ",\n\"h\""), "line break"},
		{"a carriage return at the end", plain + "\r", "line break"},
		{"a line feed at the end", plain + "\n", "line break"},
		{"something after", plain + "x", "after its end"},
		{"a bracket after", plain + "}", "after its end"},
		{"another line after", plain + plain, "after its end"},
		{"not UTF-8", changed(t, plain, "boot-1", "boot-\xff"), "UTF-8"},
		{"half a rune", changed(t, plain, "boot-1", "boot-\xe6\xb0"), "UTF-8"},
		{"too long", changed(t, plain, "boot-1", strings.Repeat("b", maxLine)), "longer than"},
		{"too deep", sealed(t, changed(t, event, `{"v":1`, `{"x":`+deep+`,"v":1`)), "deep"},
		{"e missing", `{"h":"` + hash + `"}`, "no event"},
		{"e null", `{"e":null,"h":"` + hash + `"}`, "v is missing"},
		{"e a text", `{"e":"x","h":"` + hash + `"}`, "event cannot be read"},
		{"h missing", `{"e":` + event + `}`, "hash (member h)"},
		{"h empty", `{"e":` + event + `,"h":""}`, "hash (member h)"},
		{"h in capitals", changed(t, plain, hash, strings.ToUpper(hash)), "hash (member h)"},
		{"h too short", changed(t, plain, hash, hash[1:]), "hash (member h)"},
		{"h too long", changed(t, plain, hash, hash+"0"), "hash (member h)"},
		{"h not hexadecimal", changed(t, plain, hash, "g"+hash[1:]), "hash (member h)"},
		{"h a number", changed(t, plain, `"`+hash+`"`, "7"), "line is not"},
	}
	for _, m := range []struct{ old, new, says string }{
		{`"v":1`, `"v":0`, "v is missing"},
		{number(anEvent, 1), strings.ToUpper(number(anEvent, 1)), "id is not"},
		{number(anEvent, 1), "{" + number(anEvent, 1) + "}", "id is not"},
		{number(aLog, 1), "log-1", "log is not"},
		{`"seq":1`, `"seq":0`, "seq is not"},
		{`"seq":1`, `"seq":1.5`, "event cannot be read"},
		{`"tick":1`, `"tick":-1`, "tick is not"},
		{string(NoHash), "0", "prev is not"},
		{`"scope":"case"`, `"scope":"world"`, "scope is not"},
		{caseA, "", "about is missing"},
		{`"at":"2026-03-02T08:00:00+03:00[Etc/GMT-3]"`, `"at":""`, "at is missing"},
		{`"at":"2026-03-02T08:00:00+03:00[Etc/GMT-3]"`, `"at":"yesterday"`, "event cannot be read"},
		{`"at":"2026-03-02T08:00:00+03:00[Etc/GMT-3]"`, `"at":1772427600`, "event cannot be read"},
		{`"wall":"2026-03-02T08:00:01+03:00[Etc/GMT-3]"`, `"wall":""`, "entered has no"},
		{provider, "", "author is not"},
		{"vitals/1", "vitals", "kind is not"},
		{"vitals/1", "vitals/01", "kind is not"},
		{"vitals/1", "Vitals/1", "kind is not"},
		{`{"pulse":"70 /min"}`, `null`, "data is not"},
		{`{"pulse":"70 /min"}`, `[]`, "data is not"},
		{`"data"`, `"dates"`, "data is not"},
		{`{"v":1`, `{"private":"secret","v":1`, "private is not"},
		{`{"v":1`, `{"replaces":["` + number(anEvent, 2) + `"],"v":1`, "replaces stands without"},
		{`{"v":1`, `{"amends":"that one","v":1`, "amends is not"},
		{`{"v":1`, `{"amends":"` + number(anEvent, 2) + `","replaces":["x"],"v":1`, "replaces holds"},
	} {
		tests = append(tests, struct{ name, line, says string }{m.old + " as " + m.new, sealed(t, changed(t, event, m.old, m.new)), m.says})
	}
	for _, test := range tests {
		l, err := ParseLine([]byte(test.line))
		if err == nil {
			t.Errorf("%s: accepted as %+v", test.name, l.Event)
		} else if !strings.Contains(err.Error(), test.says) {
			t.Errorf("%s: %q does not say %q", test.name, err, test.says)
		}
	}
}

func TestLongestLine(t *testing.T) {
	text := sealed(t, event)
	text = changed(t, text, "boot-1", "boot-1"+strings.Repeat("b", maxLine-len(text)))
	if _, err := ParseLine([]byte(text)); err != nil {
		t.Errorf("a line of %d bytes: %v", len(text), err)
	}
	d := devices(t, 1)[0]
	draft := goldenDraft(&Note{}, 1)
	draft.Private = Private{PrivateText: strings.Repeat("b", maxLine)}
	_, err := draft.Seal(d.log, 1, 1, NoHash)
	var fault *FieldError
	if !errors.As(err, &fault) || fault.Field != "private" || fault.Code != "too-long" {
		t.Errorf("a note too long to be read back: %v", err)
	}
}

// TestVerify changes a line one byte at a time: whatever can still be read
// must be found to be damaged.
func TestVerify(t *testing.T) {
	d := devices(t, 1)[0]
	d.write(pulse(70))
	good := d.write(&Note{}, private("wet chest on the left"))
	if err := good.Verify(); err != nil {
		t.Fatal(err)
	}
	read := 0
	part := func(name string, of func(l *Line) []byte) {
		for i := range of(good) {
			for _, flip := range []byte{0x01, 0x20} {
				l := Line{E: bytes.Clone(good.E), P: bytes.Clone(good.P), H: good.H}
				of(&l)[i] ^= flip
				l, err := ReadLine(l.E, l.P, l.H)
				if err != nil {
					continue
				}
				read++
				if err := l.Verify(); !errors.Is(err, ErrDamaged) {
					t.Errorf("byte %d of %s (%q) changed: %v", i, name, of(good)[i], err)
				}
			}
		}
	}
	part("e", func(l *Line) []byte { return l.E })
	part("p", func(l *Line) []byte { return l.P })
	if read < 200 {
		t.Errorf("only %d changed lines could be read: nothing was verified", read)
	}

	damaged := func(name string, l Line) {
		t.Helper()
		if err := l.Verify(); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: %v", name, err)
		}
	}
	l := *good
	l.H = someHash
	damaged("another hash", l)
	l = *good
	l.Event.Prev = NoHash
	damaged("another hash before it", l)
	l = *good
	l.Event.Prev = "short"
	damaged("a hash before it that is none", l)
	e := bytes.Replace(good.E, []byte(good.Event.Prev), []byte(NoHash), 1)
	l, err := ReadLine(e, good.P, good.H)
	if err != nil {
		t.Fatal(err)
	}
	damaged("another hash before it, in the event", l)
	other := d.write(&Note{}, private("another text"))
	l = *good
	l.P = other.P
	damaged("the private part of another", l)
	l = *d.write(&Note{})
	l.P = good.P
	damaged("a private part where there was none", l)
}

func TestWithoutPrivate(t *testing.T) {
	d := devices(t, 1)[0]
	whole := d.write(&Note{}, private("wet chest on the left"))
	bare := whole.WithoutPrivate()
	if err := bare.Verify(); err != nil {
		t.Error(err)
	}
	if bare.P != nil || bare.Private != nil || bytes.Contains(bare.Bytes(true), []byte("wet chest")) {
		t.Error("the private part is still there")
	}
	if whole.Private[PrivateText] != "wet chest on the left" {
		t.Error("it is gone from the line that it was taken of")
	}
	if !bytes.Equal(bare.Bytes(true), whole.Bytes(false)) {
		t.Errorf("left out it is\n%s\ntaken away\n%s", whole.Bytes(false), bare.Bytes(true))
	}
	again := lineOf(t, string(whole.Bytes(false)))
	if err := again.Verify(); err != nil || again.P != nil || again.H != whole.H {
		t.Errorf("read back: %v", err)
	}
}

// TestSalt: one text sealed twice does not give one commitment, or a name
// could be guessed from it.
func TestSalt(t *testing.T) {
	seal := func() Line {
		d := goldenDraft(&Note{}, 1)
		l, err := d.Seal(number(aLog, 1), 1, 1, NoHash)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	a, b := seal(), seal()
	if a.Event.Private == b.Event.Private || a.Private[PrivateSalt] == b.Private[PrivateSalt] {
		t.Error("two seals have one salt")
	}
	if len(a.Private[PrivateSalt]) != 43 { // 32 bytes in base 64
		t.Errorf("the salt is %q", a.Private[PrivateSalt])
	}
	if a.Private[PrivateText] != b.Private[PrivateText] || bytes.Contains(a.E, []byte("wet")) {
		t.Error("the text is not in the private part only")
	}
}

func TestDraftCheck(t *testing.T) {
	tests := []struct {
		change      func(*Draft)
		field, code string
	}{
		{func(d *Draft) { d.Payload = nil }, "kind", "missing"},
		{func(d *Draft) { d.Payload = &Unknown{As: "tide/1"} }, "kind", "not-in-list"},
		{func(d *Draft) { d.ID = "" }, "id", "not-an-id"},
		{func(d *Draft) { d.Author = "me" }, "author", "not-an-id"},
		{func(d *Draft) { d.Scope = ScopeClinic }, "scope", "not-in-list"},
		{func(d *Draft) { d.Scope = "" }, "scope", "not-in-list"},
		{func(d *Draft) { d.About = "" }, "about", "missing"},
		{func(d *Draft) { d.About = "case 1" }, "about", "not-an-id"},
		{func(d *Draft) { d.At = Moment{} }, "at", "missing"},
		{func(d *Draft) { d.Entered.Wall = Moment{} }, "entered", "missing"},
		{func(d *Draft) { d.Payload = &Struck{} }, "amends", "missing"},
		{func(d *Draft) { d.Payload = &Restored{} }, "amends", "missing"},
		{func(d *Draft) { d.Payload = &Moved{From: caseB} }, "amends", "missing"},
		{func(d *Draft) { amends("that one", d.ID)(d) }, "amends", "not-an-id"},
		{func(d *Draft) { amends(d.ID, d.ID)(d) }, "amends", "contradiction"},
		{func(d *Draft) { amends(number(anEvent, 2))(d) }, "replaces", "missing"},
		{func(d *Draft) { d.Replaces = []string{number(anEvent, 2)} }, "amends", "missing"},
		{func(d *Draft) { d.Reason = term.ReasonMistyped }, "amends", "missing"},
		{func(d *Draft) { amends(number(anEvent, 2), number(anEvent, 2))(d); d.Reason = "no-such" }, "reason", "not-in-list"},
		{func(d *Draft) { amends(number(anEvent, 2), number(anEvent, 2))(d); d.Payload, d.Reason = &Struck{}, "" }, "reason", "not-in-list"},
		{func(d *Draft) {
			amends(number(anEvent, 2), number(anEvent, 2))(d)
			d.Payload, d.Reason = &Moved{From: caseB}, ""
		}, "reason", "not-in-list"},
		{func(d *Draft) { d.Private = Private{PrivateSalt: "none"} }, "private", "contradiction"},
		{func(d *Draft) { d.Private = Private{"Name": "x"} }, "private", "not-in-list"},
		{func(d *Draft) { d.Payload = pulse(800) }, "pulse", "out-of-bounds"},
	}
	for i, test := range tests {
		d := goldenDraft(pulse(70), 1)
		if err := d.Check(); err != nil {
			t.Fatal(err)
		}
		test.change(&d)
		var fault *FieldError
		if err := d.Check(); !errors.As(err, &fault) || fault.Field != test.field || fault.Code != test.code {
			t.Errorf("%d: got %v, want %s %s", i, err, test.field, test.code)
		}
		if l, err := d.Seal(number(aLog, 1), 1, 1, NoHash); err == nil {
			t.Errorf("%d: it was sealed as %s", i, l.E)
		}
	}
	unexplained := goldenDraft(pulse(70), 1)
	amends(number(anEvent, 2), number(anEvent, 2))(&unexplained)
	unexplained.Reason = ""
	if err := unexplained.Check(); err != nil {
		t.Errorf("a new content without a reason: %v", err)
	}
	good := goldenDraft(pulse(70), 1)
	for name, seal := range map[string]func() (Line, error){
		"no log":    func() (Line, error) { return good.Seal("", 1, 1, NoHash) },
		"number 0":  func() (Line, error) { return good.Seal(number(aLog, 1), 0, 1, NoHash) },
		"tick 0":    func() (Line, error) { return good.Seal(number(aLog, 1), 1, 0, NoHash) },
		"no prev":   func() (Line, error) { return good.Seal(number(aLog, 1), 1, 1, "") },
		"long prev": func() (Line, error) { return good.Seal(number(aLog, 1), 1, 1, NoHash+"0") },
	} {
		if _, err := seal(); err == nil {
			t.Errorf("sealed with %s", name)
		}
	}
}

func TestMomentRoundTrip(t *testing.T) {
	for _, s := range []string{
		"2026-03-02T08:41:12+03:00[Etc/GMT-3]",
		"2026-03-02T08:41:12.35+05:45[Asia/Kathmandu]",
		"2026-03-02T08:41:12.007-03:30[America/St_Johns]",
		"2026-03-02T08:41:12Z",
		"2026-03-02T08:41:12Z[Etc/UTC]",
		"2026-03-02T08:41:12+01:00[+01:00]",
		"0001-01-01T00:00:00.001Z",
		"9999-12-31T23:59:59.999-12:00",
	} {
		m, err := ParseMoment(s)
		if err != nil || m.String() != s {
			t.Errorf("%s reads as %s, %v", s, m, err)
			continue
		}
		j, err := json.Marshal(struct{ At Moment }{m})
		if err != nil || string(j) != `{"At":"`+s+`"}` {
			t.Errorf("%s in JSON is %s, %v", s, j, err)
		}
		var again struct{ At Moment }
		if err := json.Unmarshal(j, &again); err != nil || again.At.String() != s || !again.At.Equal(m.Time) || again.At.Zone != m.Zone {
			t.Errorf("%s reads back as %s, %v", j, again.At, err)
		}
	}
	for _, s := range []string{
		"", "now", "2026-03-02", "2026-03-02T08:41:12", "2026-03-02T08:41:12+03:00[", "2026-03-02T08:41:12+03:00[]",
		"2026-03-02T08:41:12+03:00[Etc/GMT-3", "2026-03-02T08:41:12+03:00[A]x", "2026-03-02T08:41:12+03:00[A][B]", "[Etc/GMT-3]",
		"2026-03-02T08:41:12+03:00[A B]", "2026-03-02T08:41:12+03:00[A\"B]", "2026-03-02T08:41:12+03:00[A\nB]", "2026-03-02T08:41:12+03:00[Á]",
		"2026-02-30T08:41:12Z", "2026-03-02T24:00:00Z", "2026-03-02T08:41:12+24:00", "2026-03-02T08:41:12-24:60", "0000-01-01T00:00:00Z", "0001-01-01T00:00:00Z",
	} {
		if m, err := ParseMoment(s); err == nil {
			t.Errorf("%q reads as %s", s, m)
		}
	}
	var zero Moment
	if j, err := json.Marshal(zero); err != nil || string(j) != `""` || !zero.IsZero() || zero.String() != "" {
		t.Errorf("no time is written as %s, %v", j, err)
	}
	m := start
	if err := json.Unmarshal([]byte(`""`), &m); err != nil || !m.IsZero() || m.Zone != "" {
		t.Errorf("no time reads back as %s, %v", m, err)
	}
	for _, s := range []string{`7`, `"x"`, `{}`} {
		if err := json.Unmarshal([]byte(s), &m); err == nil {
			t.Errorf("%s reads as a time", s)
		}
	}
}

// TestMomentOf: whatever zone a phone reports, what is written reads back as
// the same millisecond.
func TestMomentOf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		offset := rapid.IntRange(-86399, 86399).Draw(t, "offset in seconds")
		zone := rapid.SampledFrom([]string{"", "Etc/GMT-3", "GMT+03:00", "not a zone", "[x]", "Zürich", "a\nb"}).Draw(t, "zone")
		instant := time.UnixMilli(rapid.Int64Range(-2e12, 8e12).Draw(t, "ms")).Add(time.Duration(rapid.IntRange(0, 999_999).Draw(t, "ns")))
		m := MomentOf(instant.In(time.FixedZone("X", offset)), zone)
		again, err := ParseMoment(m.String())
		if err != nil {
			t.Fatal(err)
		}
		if again.UnixMilli() != instant.UnixMilli() || again.Nanosecond()%1e6 != 0 || again.String() != m.String() || again.Zone != m.Zone {
			t.Fatalf("%s is written as %s and reads back as %s", instant, m, again)
		}
		if m.Zone != "" && m.Zone != zone {
			t.Fatalf("zone %q became %q", zone, m.Zone)
		}
		if later := m.Add(90 * time.Second); later.Sub(m.Time) != 90*time.Second || later.Zone != m.Zone {
			t.Fatalf("90 s after %s is %s", m, later)
		}
	})
}

func TestBefore(t *testing.T) {
	in := []Event{
		{Tick: 1, Log: "b", Seq: 2, ID: "b"},
		{Tick: 2, Log: "a", Seq: 1, ID: "a"},
		{Tick: 2, Log: "b", Seq: 1, ID: "b"},
		{Tick: 2, Log: "b", Seq: 2, ID: "a"},
		{Tick: 2, Log: "b", Seq: 2, ID: "b"},
	}
	for i := range in {
		for j := range in {
			if got := in[i].Before(&in[j]); got != (i < j) {
				t.Errorf("%+v before %+v: %v", in[i], in[j], got)
			}
		}
	}
}

func FuzzParseLine(f *testing.F) {
	for _, l := range readGolden(f) {
		f.Add(l.Bytes(true))
		f.Add(l.Bytes(false))
	}
	f.Add([]byte(sealed(f, event)))
	f.Add([]byte(sealed(f, changed(f, event, "vitals/1", "tide/7"))))
	f.Add([]byte(sealed(f, changed(f, event, `"seq":1`, `"seq":1,"Seq":2`))))
	f.Add([]byte(`{"e":null,"p":{},"h":"` + string(NoHash) + `"}`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, b []byte) {
		l, err := ParseLine(b)
		if err != nil {
			return
		}
		// Where the parts stand in the order in which Bytes writes them, they
		// come out as they went in, but for spaces around them.
		var parts, written bytes.Buffer
		if err := errors.Join(json.Compact(&parts, b), json.Compact(&written, l.Bytes(true))); err != nil {
			t.Fatal(err)
		}
		inOrder := bytes.HasPrefix(parts.Bytes(), []byte(`{"e":`)) && bytes.HasSuffix(parts.Bytes(), []byte(`,"h":"`+string(l.H)+`"}`))
		if inOrder && !bytes.Contains(b, []byte(`\`)) && !bytes.Equal(parts.Bytes(), written.Bytes()) {
			t.Fatalf("%s\nis written as\n%s", b, l.Bytes(true))
		}
		if bytes.Equal(b, parts.Bytes()) && inOrder && !bytes.Contains(b, []byte(`\`)) && !bytes.Equal(l.Bytes(true), b) {
			t.Fatalf("%s\nis written as\n%s", b, l.Bytes(true))
		}
		again, err := ParseLine(l.Bytes(true))
		if err != nil {
			t.Fatalf("%s\nis written as\n%s\nwhich is refused: %v", b, l.Bytes(true), err)
		}
		if !reflect.DeepEqual(again, l) {
			t.Fatalf("%s\nreads back as\n%+v\nwas\n%+v", b, again, l)
		}
		if l.Payload == nil {
			t.Fatal("there is no payload")
		}
		bare := l.WithoutPrivate()
		if damaged := l.Verify(); damaged == nil && bare.Verify() != nil {
			t.Fatal("it does not verify without its private part")
		}
		if s := Fold([]*Line{&l, &again, &bare}); len(s.Lines()) != 1 {
			t.Fatalf("three copies of one line are %d", len(s.Lines()))
		}
	})
}

func FuzzParseMoment(f *testing.F) {
	for _, s := range []string{
		"2026-03-02T08:41:12.35+03:00[Etc/GMT-3]", "2026-03-02T08:41:12Z", "0001-01-01T00:00:00Z", "0001-01-01T00:00:00.0001+00:01",
		"9999-12-31T23:59:59.9999-24:00", "2026-03-02T8:41:12,5Z", "2026-03-02T08:41:12+24:60", "2026-03-02T08:41:12-00:00", "2026-03-02T08:41:12Z[\xff]", "",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, err := ParseMoment(s)
		if err != nil {
			return
		}
		again, err := ParseMoment(m.String())
		if err != nil {
			t.Fatalf("%q is written as %q, which is refused: %v", s, m, err)
		}
		if m.IsZero() || !again.Equal(m.Time) || again.Zone != m.Zone || again.String() != m.String() {
			t.Fatalf("%q is written as %q and reads back as %q", s, m, again)
		}
		j, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		var fromJSON Moment
		if err := json.Unmarshal(j, &fromJSON); err != nil || fromJSON.String() != m.String() {
			t.Fatalf("%s reads back as %q, %v", j, fromJSON, err)
		}
	})
}
