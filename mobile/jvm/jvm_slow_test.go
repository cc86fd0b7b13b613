//go:build slow

package jvm

import (
	"bufio"
	"bytes"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"chinlift/mobile"
)

// The contract as it crosses: JSON written and read by those who know nothing
// of package ui.
type (
	tap struct {
		Path   string              `json:"path"`
		Fields map[string][]string `json:"fields"`
		Event  string              `json:"event"`
		Base   int64               `json:"base"`
		Page   string              `json:"page"`
		Under  string              `json:"under"`
		Case   string              `json:"case"`
	}
	answer struct {
		Seq     int64   `json:"seq"`
		Base    int64   `json:"base"`
		From    int64   `json:"from"`
		Patches []patch `json:"patches"`
		Go      string  `json:"go"`
		Close   bool    `json:"close"`
		Event   string  `json:"event"`
		Problem *struct {
			Status int    `json:"status"`
			Code   string `json:"code"`
			Field  string `json:"field"`
			Words  string `json:"words"`
		} `json:"problem"`
	}
	patch struct {
		ID   string `json:"id"`
		HTML string `json:"html"`
	}
)

// machine is a Java virtual machine that holds the companion.
type machine struct {
	t    *testing.T
	to   io.WriteCloser
	from *bufio.Reader
	errs string // file of what it says besides
	wait func() error
	kill func()
}

func start(t *testing.T, b binding) *machine {
	t.Helper()
	dir := t.TempDir()
	c := exec.CommandContext(t.Context(), b.kit.java, "-Djava.library.path="+b.library, "-XX:ErrorFile="+filepath.Join(dir, "crash.log"), "-cp", b.classes, "Driver")
	m := &machine{t: t, errs: filepath.Join(dir, "errors.log"), wait: c.Wait}
	m.kill = func() {
		t.Helper()
		if err := c.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = c.Wait() // it was killed
	}
	errs, err := os.Create(m.errs)
	if err != nil {
		t.Fatal(err)
	}
	defer errs.Close()
	c.Dir, c.Stderr = dir, errs
	to, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	from, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	m.to, m.from = to, bufio.NewReader(from)
	t.Cleanup(func() {
		// After a failure it still runs, and would write where all is removed.
		if to.Close() == nil {
			_ = c.Wait()
		}
	})
	return m
}

// end lets the machine end by itself, and fails when it ends badly.
func (m *machine) end() {
	m.t.Helper()
	rest, err := "", m.to.Close()
	if err == nil {
		rest, err = m.from.ReadString('\n')
	}
	if err = errors.Join(m.wait(), ignoreEnd(err)); err != nil || rest != "" {
		m.t.Fatalf("the machine ends with %v, %q\n%s", err, rest, m.last())
	}
}

func ignoreEnd(err error) error {
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// last is the end of what the machine said besides.
func (m *machine) last() string {
	text, err := os.ReadFile(m.errs)
	if err != nil {
		return err.Error()
	}
	lines := strings.Split(string(text), "\n")
	return strings.Join(lines[max(0, len(lines)-30):], "\n")
}

// obey gives an order and answers the words that come back; nil is Java's
// null. threw is "" or the class that was thrown, with its message as the one
// word.
func (m *machine) obey(order string, args ...[]byte) (words [][]byte, threw string) {
	m.t.Helper()
	line := order
	for _, a := range args {
		if a == nil {
			line += " -"
		} else {
			line += " =" + base64.StdEncoding.EncodeToString(a)
		}
	}
	_, err := io.WriteString(m.to, line+"\n")
	reply := ""
	if err == nil {
		reply, err = m.from.ReadString('\n')
	}
	if err != nil {
		m.t.Fatalf("%s: the machine is gone: %v, %v\n%s", order, err, m.wait(), m.last())
	}
	parts := strings.Fields(reply)
	for _, p := range parts[1:] {
		var word []byte // null
		if p != "-" {
			if word, err = base64.StdEncoding.DecodeString(strings.TrimPrefix(p, "=")); err != nil {
				m.t.Fatalf("%s answers %q: %v", order, p, err)
			}
		}
		words = append(words, word)
	}
	switch parts[0] {
	case "ok":
		return words, ""
	case "threw":
		return words[1:], string(words[0])
	}
	m.t.Fatalf("%s: %s %s\n%s", order, parts[0], words, m.last())
	return nil, ""
}

// must gives an order that succeeds.
func (m *machine) must(order string, args ...[]byte) [][]byte {
	m.t.Helper()
	words, threw := m.obey(order, args...)
	if threw != "" {
		m.t.Fatalf("%s threw %s: %s", order, threw, words)
	}
	return words
}

// refuse gives an order that throws an error of Go in words for a user.
func (m *machine) refuse(order string, args ...[]byte) {
	m.t.Helper()
	words, threw := m.obey(order, args...)
	if !strings.HasPrefix(threw, "go.Universe") || len(words[0]) < 20 || words[0][0] == '[' {
		m.t.Errorf("%s threw %q: %q; want an error of Go, in words", order, threw, words)
	}
}

func (m *machine) get(path string, status int) (mediaType, name string, body []byte) {
	m.t.Helper()
	w := m.must("get", []byte(path))
	if string(w[0]) != strconv.Itoa(status) || len(w[3]) == 0 || !bytes.Equal(w[4], w[1]) {
		m.t.Fatalf("%s answers %s with %d bytes, want %d\n%s", path, w[0], len(w[3]), status, w[3])
	}
	return string(w[1]), string(w[2]), w[3]
}

func (m *machine) send(s tap) answer {
	m.t.Helper()
	text, err := json.Marshal(s)
	if err != nil {
		m.t.Fatal(err)
	}
	return m.posted(m.must("send", post(text))[0])
}

// post writes a tap as the page posts it.
func post(tap []byte) []byte { return []byte(`{"n":41,"send":` + string(tap) + `}`) }

// posted reads what is posted back.
func (m *machine) posted(text []byte) answer {
	m.t.Helper()
	var p struct {
		N      int
		Answer json.RawMessage
	}
	if err := json.Unmarshal(text, &p); err != nil || p.N != 41 || len(p.Answer) == 0 {
		m.t.Fatalf("what is posted back cannot be read: %v\n%s", err, text)
	}
	return m.read(p.Answer)
}

func (m *machine) read(text []byte) (a answer) {
	m.t.Helper()
	if err := json.Unmarshal(text, &a); err != nil {
		m.t.Fatalf("an answer that cannot be read: %v\n%s", err, text)
	}
	return a
}

// hand is who taps: it has a page before it, as in a WebView, and perhaps a
// tray laid over that.
type hand struct {
	*machine
	page page
	tray *page    // nil: none
	want []string // what was tapped, as the file says it; "*" stands for an id
	taps int
}

// html gets a page.
func (h *hand) html(path string) page {
	h.t.Helper()
	mediaType, name, body := h.get(path, 200)
	if mediaType != "text/html; charset=utf-8" || name != "" {
		h.t.Fatalf("%s is %s, named %q", path, mediaType, name)
	}
	return readPage(h.t, string(body))
}

func (h *hand) open(path string) {
	h.t.Helper()
	if h.page, h.tray = h.html(path), nil; h.page.path != strings.SplitN(path, "?", 2)[0] {
		h.t.Fatalf("%s calls itself %s", path, h.page.path)
	}
}

// key finds a key on what lies uppermost.
func (h *hand) key(name string) key {
	h.t.Helper()
	p := h.page
	if h.tray != nil {
		p = *h.tray
	}
	k, ok := p.keys[name]
	if !ok {
		h.t.Fatalf("%s has no key %q; it has %q", p.path, name, slices.Sorted(maps.Keys(p.keys)))
	}
	return k
}

// follow taps a link: another page, or a tray to lay over this one.
func (h *hand) follow(name string) {
	h.t.Helper()
	k := h.key(name)
	if !k.layer {
		h.open("/" + k.href)
		return
	}
	path, query, _ := strings.Cut("/"+k.href, "?")
	laid := h.html(path + "?" + strings.TrimPrefix(query+"&layer=1", "&"))
	laid.path = path
	h.tray = &laid
}

// sent is what a tap on a key sends.
func (h *hand) sent(k key, entered []string) tap {
	h.t.Helper()
	base, err := strconv.ParseInt(h.page.base, 10, 64)
	if err != nil {
		h.t.Fatalf("%s is drawing %q", h.page.path, h.page.base)
	}
	s := tap{Path: h.page.path, Fields: k.gather(h.t, entered...), Event: k.event, Base: base, Page: h.page.id, Case: k.of}
	if h.tray != nil {
		s.Path, s.Under = h.tray.path, h.page.path
	}
	return s
}

// lines is how many lines the page shows.
func (h *hand) lines() int64 {
	h.t.Helper()
	n, err := strconv.ParseInt(h.page.seq, 10, 64)
	if err != nil {
		h.t.Fatalf("%s shows %q lines", h.page.path, h.page.seq)
	}
	return n
}

// settle brings what is before the hand up to date.
func (h *hand) settle(a answer) {
	h.t.Helper()
	if a.Close {
		h.tray = nil
	}
	for _, p := range a.Patches {
		var ok bool
		if h.tray != nil && p.ID == "tray" {
			*h.tray, ok = h.tray.patched(h.t, p)
		} else {
			h.page, ok = h.page.patched(h.t, p)
		}
		if !ok {
			h.t.Fatalf("a patch of %q, which %s does not have:\n%s", p.ID, h.page.path, p.HTML)
		}
	}
	h.page.base, h.page.seq = strconv.FormatInt(a.Base, 10), strconv.FormatInt(a.Seq, 10)
}

// tap taps a key that records, with what was entered in its tray, and does
// what the answer says. The same tap again must change nothing. want is the
// entries that it makes.
func (h *hand) tap(name string, entered []string, want ...string) {
	h.t.Helper()
	s := h.sent(h.key(name), entered)
	a := h.send(s)
	if a.Problem != nil || a.Seq <= h.lines() || (a.Go == "") != (a.Event != "" && len(a.Patches) > 0) {
		h.t.Fatalf("%s, %+v: %+v, %+v", name, s, a, a.Problem)
	}
	if again := h.send(s); again.Problem != nil || again.Seq != a.Seq {
		h.t.Fatalf("%s again: %+v, %+v; want the same %d lines", name, again, again.Problem, a.Seq)
	}
	h.taps++
	h.want = append(h.want, want...)
	if a.Go != "" {
		h.open("/" + a.Go)
		return
	}
	// A key that is not drawn anew gets the id of its next tap by itself.
	h.page = h.page.minted(h.t, s.Event, a.Event)
	if h.tray != nil {
		*h.tray = h.tray.minted(h.t, s.Event, a.Event)
	}
	h.settle(a)
}

// refused taps a key whose tray holds what cannot be, and wants the field
// named and nothing recorded.
func (h *hand) refused(name, field string, entered ...string) {
	h.t.Helper()
	s := h.sent(h.key(name), entered)
	a := h.send(s)
	if a.Problem == nil || a.Problem.Status != 422 || a.Problem.Field != field || len(a.Problem.Words) < 20 || a.Problem.Words[0] == '[' ||
		a.Seq != h.lines() || a.Go != "" || a.Close || len(a.Patches) > 0 {
		h.t.Errorf("%s with %v: %+v, %+v; want %q named and nothing recorded", name, entered, a, a.Problem, field)
	}
}

// line is what this test reads of a line of a log.
type line struct {
	E struct {
		ID, Log, Scope, Kind, At, Reason string
		Amends                           string
		Data                             json.RawMessage
		Entered                          struct {
			Wall, Boot  string
			SinceBootMS int64 `json:"since_boot_ms"`
		}
	}
	P json.RawMessage
}

// record takes the lines of a case away as a file, and answers them and what
// they say: kind and data.
func (h *hand) record(id string, private bool) (file []byte, lines []line, said []string) {
	h.t.Helper()
	path := "/case/" + id + "/files/lines.jsonl"
	if private {
		path += "?private=yes"
	}
	mediaType, name, file := h.get(path, 200)
	if !strings.HasPrefix(mediaType, "application/jsonl") || !strings.HasPrefix(name, "case-") || !strings.HasSuffix(name, "lines.jsonl") {
		h.t.Errorf("the file is %s, named %q", mediaType, name)
	}
	for text := range bytes.Lines(file) {
		var l line
		if err := json.Unmarshal(text, &l); err != nil {
			h.t.Fatalf("%v in %s", err, text)
		}
		lines = append(lines, l)
		if l.E.Scope == "case" {
			said = append(said, fmt.Sprintf("%s %s", l.E.Kind, l.E.Data))
		}
	}
	return file, lines, said
}

// newID mints an id as a control does: a UUID, version 7.
func newID() string {
	var b [16]byte
	if _, err := rand.Read(b[:]); err != nil {
		panic(err) // never: the package says so
	}
	ms := time.Now().UnixMilli()
	for i := range 6 {
		b[i] = byte(ms >> (40 - 8*i))
	}
	b[6], b[8] = b[6]&0x0f|0x70, b[8]&0x3f|0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

func TestACaseThroughTheJavaBinding(t *testing.T) {
	b := build(t)
	dir := filepath.Join(t.TempDir(), "data")
	kept := dir + "-kept"
	// Beyond two bytes a letter, beyond the first plane, and with a mark that
	// joins the letter before it: each takes another way through UTF-16.
	const patient = "Invented Pérsón ሰው 🩺 é̱ <&> \"q\""
	const note = "line one\nline two: ½ ampoule, 37 °C, 👩🏾‍⚕️"
	started := time.Now()
	h := &hand{machine: start(t, b)}

	// All that package mobile exports is there for a shell to call.
	for class, want := range exported(t) {
		var got []string
		for _, w := range h.must("members", []byte("mobile."+class)) {
			if n := strings.ToLower(string(w)); !slices.Contains([]string{"increfnum", "equals", "hashcode", "tostring", "touch"}, n) {
				got = append(got, n)
			}
		}
		if slices.Sort(got); !slices.Equal(got, want) {
			t.Errorf("class %s has %q, and Go exports %q", class, got, want)
		}
	}

	// Before it is open, every call says so in words; none ends the process.
	for _, order := range []string{"suspend", "resume"} {
		h.refuse(order)
	}
	h.refuse("get", []byte("/"))
	h.refuse("mark", []byte("/"))
	h.refuse("attach", []byte("/attach/kit/a/b"), []byte("x"))
	h.refuse("connected", []byte("2"))
	h.refuse("watch", []byte("yes"))
	if w := h.must("send", post([]byte("{}"))); string(w[0]) != `{"n":41}` {
		t.Errorf("a tap before it is open answers %s", w[0])
	}
	if w := h.must("empty-notice"); string(w[0]) != "0" || string(w[1]) != "null" || len(w[2]) != 0 {
		t.Errorf("an empty notice holds %q", w)
	}
	h.must("close")
	h.refuse("open-without-platform", []byte(dir), []byte(kept))
	h.refuse("open", nil, []byte(kept), []byte("en-GB"))
	h.refuse("open", []byte(dir), []byte(dir), []byte("en-GB"))
	if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a companion that was not opened left something: %v", err)
	}

	open := func() { h.must("open", []byte(dir), []byte(kept), []byte("en-GB")) }
	open()
	h.must("watch", []byte("yes"))
	if s := h.hears("changed"); s != "changed stored=0 screen=false key=false path=/ alarms=0" {
		t.Errorf("at the start the shell hears %q", s)
	}
	h.open("/")
	h.open("/today")
	h.follow("new-case")
	h.tap("open", []string{"name", patient, "age", "34", "age_unit", "a", "sex", "female", "urgency", "elective"},
		`case-opened/1 {"patient":"*","urgency":"elective"}`, `facts/1 {"age":"34 a","sex":"female"}`)
	id := strings.Split(h.page.path, "/")[2]
	table := "/case/" + id + "/table"
	if !strings.Contains(h.page.html, "Invented Pérsón ሰው 🩺 é̱ &lt;&amp;&gt;") {
		t.Errorf("the name did not cross:\n%s", h.page.html)
	}
	h.follow("fact-weight")
	h.tap("record", []string{"weight", "52.5", "weight_how", "measured", "weight_by", "scale"},
		`facts/1 {"weight":"52.5 kg","weight_how":"measured","weight_by":"scale"}`)

	// From here the table stays before the hand: trays come over it and go.
	// Nobody went through the checks and pauses: what was begun goes in, and a
	// reason is owed.
	owed := map[string]string{"anaesthesia-start": "started-without-check", "knife-to-skin": "started-without-check", "anaesthesia-end": "started-without-check", "handed-over": "left-early"}
	phase := func(name string) {
		t.Helper()
		h.follow("step")
		want := []string{`phase/1 {"phase":"` + name + `"}`}
		if why := owed[name]; why != "" {
			want = append(want, `owed/1 {"act":"owed","for":"`+why+`","over":"*"}`)
		}
		h.tap("phase-"+name, nil, want...)
	}
	h.open(table)
	phase("patient-in")
	phase("anaesthesia-start")
	h.open(table + "/agent?agent=ether&way=drops") // as a page of its own, too
	h.tap("drops-40", nil, `agent/1 {"agent":"ether","drops":"40 {drop}/min"}`)
	h.follow("agent")
	h.tap("cover-on", nil, `agent/1 {"cover":"on"}`)
	h.follow("vitals")
	h.refused("record", "systolic", "systolic", "1100", "diastolic", "70")
	h.tap("record", []string{"systolic", "110", "diastolic", "70", "pulse", "88"},
		`vitals/1 {"systolic":"110 mm[Hg]","diastolic":"70 mm[Hg]","pulse":"88 /min"}`)
	phase("unconscious")
	h.follow("eyes")
	h.tap("eyes-still-central", nil, `signs/1 {"eyes":"still-central"}`)
	h.follow("drug")
	h.follow("drug-atropine")
	h.refused("record", "dose", "dose_unit", "mg", "route", "iv")
	h.refused("record", "dose", "dose", "0.4x", "dose_unit", "mg", "route", "iv")
	h.tap("record", []string{"dose", "0.4", "dose_unit", "mg", "route", "iv"},
		`drug/1 {"drug":"atropine","dose":"0.4 mg","route":"iv","suggested":{"rule":"*","use":"induction-iv","guessed":true,"low":"300 ug","high":"600 ug"}}`)
	h.follow("more")
	h.follow("note")
	h.tap("record", []string{"text", note}, `note/1 {}`)
	phase("knife-to-skin")
	// Patches carry the controls of what they replace: the mark's own undo is
	// tapped on the page that they make.
	h.must("collect")
	h.tap("mark", nil, `mark/1 {}`)
	h.tap("undo", nil, `struck/1 {}`)
	h.tap("mark", nil, `mark/1 {}`)
	phase("surgery-end")
	phase("anaesthesia-end")

	// The shell hears what is recorded, and what to set.
	h.hears("recorded")
	h.notices(id)
	// A key of the phone marks an instant, for the page that is shown.
	h.must("mark", []byte(table))
	h.want = append(h.want, `mark/1 {}`)

	// A panic in Go is an error in words, and nothing is lost or locked by it.
	h.must("zone", []byte(panicZone))
	for _, order := range []string{"get", "mark"} {
		h.refuse(order, []byte(table))
	}
	if w := h.must("send", post([]byte(`{"path":"`+table+`","fields":{"kind":["mark"]},"event":"`+newID()+`"}`))); string(w[0]) != `{"n":41}` {
		t.Errorf("a tap that panics answers %s", w[0])
	}
	h.must("zone", []byte("Etc/GMT-3"))
	h.get(table, 200)

	// The phone sleeps and wakes.
	h.must("suspend")
	h.get("/log", 503)
	asleep := tap{Path: table, Fields: map[string][]string{"kind": {"mark"}}, Event: newID()}
	if a := h.send(asleep); a.Problem == nil || a.Problem.Status != 503 || len(a.Problem.Words) < 20 {
		t.Errorf("a tap while asleep answers %+v, %+v", a, a.Problem)
	}
	h.must("resume")

	// Eight fingers at once are eight entries; the file says in which order.
	var fingers [][]byte
	for range 8 {
		text, err := json.Marshal(tap{Path: table, Fields: map[string][]string{"kind": {"mark"}}, Event: newID()})
		if err != nil {
			t.Fatal(err)
		}
		fingers = append(fingers, post(text))
		h.want = append(h.want, `mark/1 {}`)
	}
	for _, text := range h.must("together", fingers...) {
		if a := h.posted(text); a.Problem != nil || len(a.Patches) == 0 {
			t.Errorf("one of eight taps at once: %+v, %+v", a, a.Problem)
		}
	}

	// A page asks what changed meanwhile.
	mediaType, _, text := h.get(table+"?fresh="+h.page.id+"&base="+h.page.base, 200)
	if a := h.read(text); !strings.HasPrefix(mediaType, "application/json") || a.Problem != nil || strconv.FormatInt(a.Seq, 10) == h.page.seq || len(a.Patches) == 0 {
		t.Errorf("what changed is %s, %s", mediaType, text)
	} else {
		h.settle(a)
	}
	if a := h.send(tap{Path: table, Fields: map[string][]string{"kind": {"mark"}}, Event: newID(), Case: newID()}); a.Problem == nil || a.Problem.Status != 409 || a.Problem.Field != "case" {
		t.Errorf("a key of another case: %+v, %+v", a, a.Problem)
	}

	phase("handed-over")
	h.open("/case/" + id + "/record")
	h.tap("outcome-recovered", nil, `outcome/1 {"outcome":"recovered"}`)
	h.tap("close", nil, `case-closed/1 {}`)

	// What no control sends: it is answered in words, as no entry.
	for _, text := range [][]byte{nil, {}, []byte("no JSON")} {
		if w := h.must("send", text); len(w[0]) != 0 {
			t.Errorf("%q is answered by %s", text, w[0])
		}
	}
	for _, text := range [][]byte{[]byte(`"text"`), []byte(`{"unknown":1}`), []byte(`{"path":"` + table + `","fields":{"do":["nothing"]}}`)} {
		if a := h.posted(h.must("send", post(text))[0]); a.Problem == nil || a.Problem.Status/100 != 4 || len(a.Problem.Words) < 20 {
			t.Errorf("%q answers %+v, %+v", text, a, a.Problem)
		}
	}
	h.get("/no/such/page", 404)
	h.get("/case/"+id+"/nothing?x=%zz", 404)
	if w := h.must("get", nil); string(w[0]) != "200" {
		t.Errorf("no path at all answers %s", w[0])
	}

	// The record has what was tapped, no more and no less, by this clock.
	h.open("/case/" + id + "/record")
	entries := h.page.entries
	file, lines, said := h.record(id, true)
	h.compare(said)
	for _, l := range lines {
		if l.E.Entered.Boot != "this-start-①" || l.E.Entered.SinceBootMS < 6_000_000_000 || !strings.HasSuffix(l.E.Entered.Wall, "+03:00[Etc/GMT-3]") {
			t.Errorf("%s was entered %+v; want the clock of the Platform", l.E.Kind, l.E.Entered)
		}
		var p struct{ Name, Text string }
		if len(l.P) > 0 {
			if err := json.Unmarshal(l.P, &p); err != nil {
				t.Fatal(err)
			}
		}
		if p.Name != "" && p.Name != patient || p.Text != "" && p.Text != note {
			t.Errorf("%s holds %q, %q", l.E.Kind, p.Name, p.Text)
		}
	}
	var roots []string // what amends another is a version of it, and listed there
	for _, l := range lines {
		if l.E.Scope == "case" && l.E.Amends == "" {
			roots = append(roots, strings.SplitN(l.E.Kind, "/", 2)[0])
		}
	}
	listed := slices.Sorted(slices.Values(entries))
	if slices.Sort(roots); !slices.Equal(listed, roots) {
		t.Errorf("the page lists %q, the file has %q", listed, roots)
	}
	if !bytes.Contains(file, []byte("Invented")) {
		t.Error("the name is not in the file in which it was asked for")
	}
	if public, _, _ := h.record(id, false); bytes.Contains(public, []byte("Invented")) {
		t.Error("the name is in a file in which nobody asked for it")
	}
	mediaType, _, pdf := h.get("/case/"+id+"/files/record.pdf", 200)
	if mediaType != "application/pdf" || !bytes.HasPrefix(pdf, []byte("%PDF-")) || !bytes.HasSuffix(bytes.TrimSpace(pdf), []byte("%%EOF")) {
		t.Errorf("the paper form is %s, %d bytes", mediaType, len(pdf))
	}
	if mediaType, _, drawn := h.get("/case/"+id+"/tile.svg?k=987000", 200); mediaType != "image/svg+xml" || !bytes.Contains(drawn, []byte("</svg>")) {
		t.Errorf("the drawn record is %s, %d bytes", mediaType, len(drawn))
	}

	h.large()
	h.picture()
	h.places(dir, kept)

	asked := string(bytes.Join(h.must("asked"), []byte(" ")))
	for _, method := range exported(t)["Platform"] {
		// What was sealed is opened at the next start.
		if !strings.Contains(strings.ToLower(asked), method+"=") && method != "unwrap" {
			t.Errorf("nobody asked the Platform for %s: %s", method, asked)
		}
	}
	h.measure("/static/chinlift.js")

	// Closed, and opened again by the same machine, and by another.
	h.must("close")
	h.must("close")
	h.refuse("get", []byte("/"))
	open()
	h.again(id, file, entries)
	if asked := string(bytes.Join(h.must("asked"), []byte(" "))); !strings.Contains(asked, "unwrap=1") {
		t.Errorf("nobody opened the places: %s", asked)
	}
	// Killed in the middle of it, with nothing closed.
	h.kill()
	h.machine = start(t, b)
	open()
	h.again(id, file, entries)
	if _, lines, _ := h.record(id, true); lines[0].E.Log != lines[len(lines)-1].E.Log {
		t.Error("after a process was killed another log was opened")
	}
	h.compareTaps()
	h.must("close")
	h.keyStore()
	h.end()
	t.Logf("%d taps, each sent twice, %d entries; %.1f s in two machines", h.taps, len(said), time.Since(started).Seconds())
}

// panicZone is the zone at which the library that is built here panics when it
// asks for the time; see build.
const panicZone = "Nowhere/Panic"

// hears waits until the Watcher heard what begins so, and gives it.
func (m *machine) hears(begins string) string {
	m.t.Helper()
	w := m.must("heard", []byte(begins))
	if w[0] == nil {
		m.t.Fatalf("nobody said %q", begins)
	}
	return string(w[0])
}

// notices looks at what the shell is told of the case on the table.
func (h *hand) notices(id string) {
	h.t.Helper()
	path := "/case/" + id + "/table"
	for {
		// Those before it were of earlier taps.
		said := strings.Split(h.hears("changed"), "\n")
		if !strings.HasPrefix(said[0], "changed stored="+h.page.seq+" ") {
			continue
		}
		if said[0] != "changed stored="+h.page.seq+" screen=true key=false path="+path+" alarms=5" || len(said) != 6 {
			h.t.Errorf("the shell hears %q", said)
		}
		for i, a := range said[1:] {
			f := strings.Split(a, "|")
			if len(f) != 7 {
				h.t.Fatalf("alarm %q", a)
			}
			boot, err := strconv.ParseInt(f[2], 10, 64)
			if err != nil || boot < 6_000_000_000 || !strings.HasPrefix(f[0], id+".vitals.") || f[3] == "" || strings.Contains(f[3], "Invented") || f[4] != path || f[5] != "true" || f[6] != "true" {
				h.t.Errorf("alarm %d is %q, %v", i, a, err)
			}
		}
		return
	}
}

// large has more than four MiB cross in both directions: a path, and the page
// that says that there is nothing under it, which holds it.
func (h *hand) large() {
	h.t.Helper()
	path := "/" + strings.Repeat("größer/", 4<<20/9+1)
	_, _, body := h.get(path, 404)
	if len(body) < 4<<20 || !bytes.Contains(body, []byte(path[:len(path)-1])) {
		h.t.Errorf("a path of %d bytes comes back in %d, or not whole", len(path), len(body))
	}
}

// picture takes one where a page asks for it.
func (h *hand) picture() {
	h.t.Helper()
	var b bytes.Buffer
	noise := image.NewGray(image.Rect(0, 0, 2400, 1800))
	if _, err := rand.Read(noise.Pix); err != nil {
		h.t.Fatal(err)
	}
	if err := png.Encode(&b, noise); err != nil || b.Len() < 4<<20 {
		h.t.Fatalf("a picture of %d bytes, %v", b.Len(), err)
	}
	h.open("/kit/open-drop")
	h.refuse("attach", []byte("/attach/kit/open-drop/gauze"), b.Bytes()) // nobody looked at it yet
	h.sendKey("gauze-good")
	h.follow("gauze-fault")
	link := h.key("attach").href
	h.refuse("attach", []byte("/"+link), []byte("no picture"))
	h.refuse("attach", []byte("/"+link), nil)
	h.refuse("attach", []byte("/case/x"), b.Bytes())
	h.must("attach", []byte("/"+link), b.Bytes())
	h.open("/kit/open-drop/look/gauze")
	_, after, found := strings.Cut(h.page.html, `src="kit/open-drop/photo/`)
	entry, _, _ := strings.Cut(after, `"`)
	if !found {
		h.t.Fatal("the picture is on no page")
	}
	mediaType, _, body := h.get("/kit/open-drop/photo/"+entry, 200)
	kept, err := jpeg.Decode(bytes.NewReader(body))
	if mediaType != "image/jpeg" || err != nil || kept.Bounds().Dx() != 1200 {
		h.t.Errorf("the picture is %s, %d bytes, %v", mediaType, len(body), err)
	}
	h.t.Logf("a picture of %d bytes went in, %d are kept", b.Len(), len(body))
}

// sendKey taps a key of a page that is of no case.
func (h *hand) sendKey(name string, entered ...string) {
	h.t.Helper()
	if a := h.send(h.sent(h.key(name), entered)); a.Problem != nil {
		h.t.Fatalf("%s: %+v", name, a.Problem)
	} else if a.Go != "" {
		h.open("/" + a.Go)
	} else {
		h.settle(a)
	}
}

// places names a place to send to. Its secret lies sealed by the key store, and
// only there.
func (h *hand) places(data, kept string) {
	h.t.Helper()
	const secret = "the invented secret"
	h.must("connected", []byte("0"))
	add := func() answer {
		h.open("/log/new/webdav")
		return h.send(h.sent(h.key("add"), []string{"address", "server.invalid/clinic", "user", "invented", "secret", secret, "private", "no"}))
	}
	h.must("lock", []byte("yes"))
	if a := add(); a.Problem == nil || len(a.Problem.Words) < 20 {
		h.t.Errorf("with the key store closed: %+v", a)
	}
	h.must("lock", []byte("no"))
	if a := add(); a.Problem != nil {
		h.t.Fatalf("%+v", a.Problem)
	}
	sealed, err := os.ReadFile(filepath.Join(kept, "places"))
	if err != nil || len(sealed) == 0 || sealed[0] != 'W' {
		h.t.Errorf("the places: %.9q %v", sealed, err)
	}
	for _, dir := range []string{data, kept} {
		err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			text, err := os.ReadFile(path)
			if bytes.Contains(text, []byte(secret)) {
				h.t.Errorf("the secret is in %s", path)
			}
			return err
		})
		if err != nil {
			h.t.Error(err)
		}
	}
	h.open("/log")
	if !strings.Contains(h.page.html, "no connection") {
		h.t.Error("the log does not say that there is no connection")
	}
	for _, kind := range []string{"folder"} {
		h.get("/log/new/"+kind, 404)
	}
}

// keyStore has the secret of the device wrapped and opened by the shell's side:
// with the key that it was wrapped by, with another one, which opens it to
// something else and does not say so, and with a key store that throws. None of
// them takes a tap away, none shows a name that it should not, and the right
// one finds everything as it was left.
func (h *hand) keyStore() {
	h.t.Helper()
	const patient, pin = "Invented Sealed", "274916"
	data := filepath.Join(h.t.TempDir(), "data")
	reopen := func(locked string, key string) {
		h.t.Helper()
		h.must("lock", []byte(locked))
		h.must("key", []byte(key))
		h.must("open", []byte(data), []byte(data+"-kept"), []byte("en-GB"))
	}
	do := func(path string, fields map[string][]string) answer {
		h.t.Helper()
		return h.send(tap{Path: path, Fields: fields, Event: newID()})
	}
	done := func(path string, fields map[string][]string) answer {
		h.t.Helper()
		a := do(path, fields)
		if a.Problem != nil {
			h.t.Fatalf("%s: %+v", path, a.Problem)
		}
		return a
	}
	try := func(pin string) string {
		h.t.Helper()
		if a := do("/sealing/unlock", map[string][]string{"do": {"unlock"}, "pin": {pin}}); a.Problem != nil {
			return a.Problem.Code
		}
		return ""
	}
	reopen("no", "0")
	choose := map[string][]string{"do": {"choose"}, "pin": {pin}}
	done("/sealing/new/setup", choose)
	done("/sealing/again/setup", choose)
	var groups []string
	_, _, page := h.get("/sealing/key", 200)
	for _, m := range regexp.MustCompile(`<li>([0-9A-Z]{4})</li>`).FindAllSubmatch(page, -1) {
		groups = append(groups, string(m[1]))
	}
	if len(groups) != 7 {
		h.t.Fatalf("the recovery key is %q", groups)
	}
	done("/sealing/key", map[string][]string{"do": {"printed"}, "group": {groups[6]}})
	done("/sealing", map[string][]string{"do": {"lock"}})
	if asked := string(bytes.Join(h.must("asked"), []byte(" "))); !strings.Contains(asked, " wrap=1") || !strings.Contains(asked, "unwrap=1") {
		h.t.Errorf("the key store was asked %s", asked)
	}
	id := strings.Split(done("/case/new", map[string][]string{"do": {"open"}, "name": {patient}, "age": {"30"}, "age_unit": {"a"}, "sex": {"male"}, "urgency": {"elective"}}).Go, "/")[1]
	table := "/case/" + id + "/table"
	marks := 0
	mark := func() {
		h.t.Helper()
		done(table, map[string][]string{"kind": {"mark"}})
		marks++
	}
	named := func() bool {
		h.t.Helper()
		_, _, page := h.get(table, 200)
		return bytes.Contains(page, []byte(patient))
	}
	mark()
	if !named() {
		h.t.Error("the case that is open does not show its name")
	}
	h.must("close")

	for _, tt := range []struct{ name, locked, key, pin string }{{"closed", "yes", "0", "only-paper"}, {"of another key", "no", "90", "wrong-pin"}} {
		reopen(tt.locked, tt.key)
		mark() // nothing stands in the way of recording
		if named() {
			h.t.Errorf("a key store that is %s opens a name", tt.name)
		}
		if got := try(pin); got != tt.pin {
			h.t.Errorf("with a key store that is %s the PIN answers %q", tt.name, got)
		}
		done("/sealing/recover", map[string][]string{"do": {"recover"}, "recovery": {strings.Join(groups, " ")}})
		if !named() {
			h.t.Errorf("with a key store that is %s the paper opens nothing", tt.name)
		}
		h.must("close")
	}
	reopen("no", "0")
	if !named() {
		h.t.Error("with its own key the open case does not show its name")
	}
	mark()
	if got := try(pin); got != "" {
		h.t.Errorf("with its own key the PIN answers %q", got)
	}
	if _, _, file := h.get("/case/"+id+"/files/lines.jsonl", 200); bytes.Count(file, []byte(`"kind":"mark/1"`)) != marks {
		h.t.Errorf("%d of %d marks are there", bytes.Count(file, []byte(`"kind":"mark/1"`)), marks)
	}
	err := filepath.WalkDir(filepath.Dir(data), func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		if bytes.Contains(text, []byte("Invented")) {
			h.t.Errorf("a name stands in %s", path)
		}
		return err
	})
	if err != nil {
		h.t.Error(err)
	}
	h.must("close")
}

// compare compares what the record says with what was tapped.
func (h *hand) compare(said []string) {
	h.t.Helper()
	for i := range max(len(said), len(h.want)) {
		got, want := "nothing", "nothing"
		if i < len(said) {
			got = said[i]
		}
		if i < len(h.want) {
			want = h.want[i]
		}
		before, after, open := strings.Cut(want, `"*"`) // an id that the core makes
		if got != want && (!open || !strings.HasPrefix(got, before) || !strings.HasSuffix(got, after)) {
			h.t.Errorf("entry %d: recorded %s, tapped %s", i+1, got, want)
		}
	}
}

// again finds the case as it was left.
func (h *hand) again(id string, file []byte, entries []string) {
	h.t.Helper()
	h.open("/log")
	if h.key("log-case").href != "case/"+id+"/record" {
		h.t.Errorf("the log leads to %s", h.key("log-case").href)
	}
	h.follow("log-case")
	if !slices.Equal(h.page.entries, entries) {
		h.t.Errorf("after another start the page lists %q, before %q", h.page.entries, entries)
	}
	if now, _, _ := h.record(id, true); !bytes.Equal(now, file) {
		h.t.Errorf("after another start the file has %d bytes, before %d", len(now), len(file))
	}
}

// compareTaps says what a tap costs through the binding, and in the process of
// this test, in one run and in turns. Each is an entry that is synced to disk.
// It gates nothing.
func (h *hand) compareTaps() {
	h.t.Helper()
	const rounds, taps = 40, 5 // short turns, so that other load meets both
	opened := func(send func(message string) string) (marks func() []string) {
		text, err := json.Marshal(tap{Path: "/case/new", Event: newID(), Fields: map[string][]string{"do": {"open"}, "age": {"30"}, "age_unit": {"a"}, "sex": {"male"}, "urgency": {"elective"}}})
		if err != nil {
			h.t.Fatal(err)
		}
		a := h.posted([]byte(send(string(post(text)))))
		if a.Problem != nil {
			h.t.Fatalf("%+v", a.Problem)
		}
		path := "/" + strings.TrimSuffix(a.Go, "/visit") + "/table"
		return func() (all []string) {
			for range taps {
				text, err := json.Marshal(tap{Path: path, Fields: map[string][]string{"kind": {"mark"}}, Event: newID()})
				if err != nil {
					h.t.Fatal(err)
				}
				all = append(all, string(post(text)))
			}
			return all
		}
	}
	dir := h.t.TempDir()
	app, err := mobile.Open(filepath.Join(dir, "data"), filepath.Join(dir, "kept"), here{})
	if err != nil {
		h.t.Fatal(err)
	}
	defer func() {
		if err := app.Close(); err != nil {
			h.t.Error(err)
		}
	}()
	there := opened(func(m string) string { return string(h.must("send", []byte(m))[0]) })
	inside := opened(app.Send)
	var through, direct []time.Duration // of each turn
	for range rounds {
		var messages [][]byte
		for _, m := range there() {
			messages = append(messages, []byte(m))
		}
		ns, err := strconv.ParseInt(string(h.must("taps", messages...)[0]), 10, 64)
		if err != nil {
			h.t.Fatal(err)
		}
		through = append(through, time.Duration(ns))
		var turn time.Duration
		for _, m := range inside() {
			before := time.Now()
			answer := app.Send(m)
			turn += time.Since(before)
			if a := h.posted([]byte(answer)); a.Problem != nil {
				h.t.Fatalf("%+v", a.Problem)
			}
		}
		direct = append(direct, turn)
	}
	middle := func(all []time.Duration) time.Duration {
		slices.Sort(all)
		return all[len(all)/2] / taps
	}
	t, d := middle(through), middle(direct)
	h.t.Logf("a tap, median of %d turns: %v through the Java binding, %v in one process; %.2f times", rounds, t, d, float64(t)/float64(d))
}

// here is the Platform of this process.
type here struct{}

func (here) SinceBoot() int64                      { return 3600_000 }
func (here) Boot() string                          { return "boot" }
func (here) Zone() string                          { return "Etc/GMT-3" }
func (here) ZoneOffset() int                       { return 3 * 3600 }
func (here) FreeBytes() int64                      { return 1 << 40 }
func (here) Battery() int                          { return -1 }
func (here) Charging() bool                        { return false }
func (here) Language() string                      { return "en" }
func (here) FullSync() bool                        { return true }
func (here) Wrap(secret []byte) ([]byte, error)    { return secret, nil }
func (here) Unwrap(wrapped []byte) ([]byte, error) { return wrapped, nil }

// measure says what a call costs. It gates nothing.
func (h *hand) measure(path string) {
	h.t.Helper()
	const getters, pages = 20000, 2000
	_, _, body := h.get(path, 200)
	w := h.must("time", []byte(strconv.Itoa(getters)), []byte(strconv.Itoa(pages)), []byte(path))
	if sum := strconv.Itoa((getters)*200 + pages*len(body)); string(w[2]) != sum {
		h.t.Errorf("over so many calls status and bytes come to %s, want %s", w[2], sum)
	}
	each := func(word []byte, n float64) float64 {
		ns, err := strconv.ParseFloat(string(word), 64)
		if err != nil {
			h.t.Fatal(err)
		}
		return ns / n / 1000
	}
	h.t.Logf("%.1f µs for a getter, %.1f µs for a page of %d bytes with its body", each(w[0], getters), each(w[1], pages), len(body))
}
