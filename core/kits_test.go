package core_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/kit"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/sync/plain"
)

// check goes through a list: each stop by itself, the rest by one key.
func check(t testing.TB, c *core.Companion, list string) (taps int) {
	t.Helper()
	k, err := c.Kit(t.Context(), list)
	if err != nil {
		t.Fatal(err)
	}
	for _, it := range k.Items {
		if it.Stop && it.State != "good" {
			look(t, c, list, it.Code, term.KitStateGood, "")
			taps++
		}
	}
	if k, err = c.Kit(t.Context(), list); err != nil {
		t.Fatal(err)
	}
	if k.Left > 0 {
		if _, err := c.SweepRest(t.Context(), core.NewID(), list); err != nil {
			t.Fatal(err)
		}
		taps++
	}
	return taps
}

func look(t testing.TB, c *core.Companion, list, item string, state term.KitState, answer term.KitAnswer) core.Done {
	t.Helper()
	d, err := c.CheckItem(t.Context(), core.NewID(), list, item, state, answer)
	if err != nil {
		t.Fatalf("%s: %v", item, err)
	}
	return d
}

func kitOf(t testing.TB, c *core.Companion, list string) core.KitState {
	t.Helper()
	k, err := c.Kit(t.Context(), list)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func itemOf(t testing.TB, k core.KitState, code string) core.KitLine {
	t.Helper()
	i := slices.IndexFunc(k.Items, func(it core.KitLine) bool { return it.Code == code })
	if i < 0 {
		t.Fatalf("%s has no %s", k.List, code)
	}
	return k.Items[i]
}

func TestBetweenCases(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	stops := 0
	for _, it := range kitOf(t, c, "open-drop").Items {
		if it.Stop {
			stops++
		}
	}
	if taps := check(t, c, "open-drop"); taps != stops+1 {
		t.Errorf("%d taps for %d stops and the rest", taps, stops)
	}
	if k := kitOf(t, c, "open-drop"); k.Good != len(k.Items) || k.Stops != 0 || k.Left != 0 || k.Again {
		t.Errorf("after a clean check: %d of %d good, %d stops, %d left, again %v", k.Good, len(k.Items), k.Stops, k.Left, k.Again)
	}
	// A case begins: only what is looked at again, and what is for each case,
	// is open; what a day's check found stands.
	clock.pass(10 * time.Minute)
	id := openCase(t, c, "Invented Person")
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	clock.pass(time.Hour)
	k := kitOf(t, c, "open-drop")
	if !k.Again || k.Good == 0 || k.Good == len(k.Items) {
		t.Errorf("between cases: %d of %d good, again %v", k.Good, len(k.Items), k.Again)
	}
	if it := itemOf(t, k, "air-moves"); !it.Stands || it.State != "good" {
		t.Errorf("what a day's check found: %+v", it)
	}
	if s := itemOf(t, k, "suction").State; s != "again" {
		t.Errorf("suction is %q between cases", s)
	}
	if s := itemOf(t, k, "agent").State; s != "" {
		t.Errorf("the bottle, looked at for each case, is %q", s)
	}
	if again := check(t, c, "open-drop"); again > stops+1 || again == 0 {
		t.Errorf("%d taps between cases, %d for a full check", again, stops+1)
	}
	if k := kitOf(t, c, "open-drop"); k.Good != len(k.Items) {
		t.Errorf("after the shorter check %d of %d are good", k.Good, len(k.Items))
	}
	// The next day all is due but what is looked at by the month.
	clock.pass(24 * time.Hour)
	if k := kitOf(t, c, "open-drop"); k.Good != 0 || k.Stops != stops {
		t.Errorf("the next day %d are good and %d of %d stops open", k.Good, k.Stops, stops)
	}
}

func TestFaultStandsUntilFoundGood(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	look(t, c, "open-drop", "suction", term.KitStateFault, term.KitAnswerBorrowed)
	clock.pass(48 * time.Hour)
	k := kitOf(t, c, "open-drop")
	if it := itemOf(t, k, "suction"); it.State != "fault" || !strings.Contains(it.Answer, "borrowed") || k.Faults != 1 {
		t.Errorf("two days later: %+v, %d faults", it, k.Faults)
	}
	// The rest can be swept; a fault that stops nothing is not among it.
	look(t, c, "open-drop", "gauze", term.KitStateAbsent, term.KitAnswerWaits)
	if _, err := c.SweepRest(t.Context(), core.NewID(), "open-drop"); err != nil {
		t.Fatal(err)
	}
	if it := itemOf(t, kitOf(t, c, "open-drop"), "gauze"); it.State != "absent" {
		t.Errorf("a sweep made what is not here %q", it.State)
	}
	look(t, c, "open-drop", "suction", term.KitStateGood, "")
	if it := itemOf(t, kitOf(t, c, "open-drop"), "suction"); it.State != "good" {
		t.Errorf("found good it is %q", it.State)
	}
}

func TestFailedStopHoldsThePlan(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	open := func(id string) []core.Held {
		t.Helper()
		cs, err := c.Case(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		h, err := c.KitOpen(ctx, cs)
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	owed := func(id string) (all []string) {
		t.Helper()
		cs, err := c.Case(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range cs.Owing() {
			all = append(all, string(e.Now().Payload.(*timeline.Owed).For))
		}
		return all
	}
	begin := func(technique string) string {
		t.Helper()
		id := openCase(t, c, "Invented Person")
		if technique != "" {
			submit(t, c, id, "plan", "techniques", technique)
		}
		// The pauses are answered: this is about the equipment alone.
		for _, pause := range []string{"before-induction", "before-first-drop"} {
			answerAll(t, c, id, pause, "yes")
		}
		return id
	}
	// Nothing planned: nothing is known to be open, and a start owes nothing.
	bare := begin("")
	submit(t, c, bare, "phase", "phase", "anaesthesia-start")
	if h, o := open(bare), owed(bare); len(h) != 0 || len(o) != 0 {
		t.Errorf("without a plan: %v, owed %v", h, o)
	}
	submit(t, c, bare, "phase", "phase", "handed-over")
	// Nobody looked.
	first := begin("open-drop")
	if h := open(first); len(h) != 1 || h[0].List != "open-drop" || len(h[0].Failed) != 0 || len(h[0].Left) < 9 {
		t.Errorf("not looked at: %+v", h)
	}
	f := form(first, "phase", "phase", "anaesthesia-start")
	for range 2 { // the second is a retry
		if _, err := c.Submit(ctx, f); err != nil {
			t.Fatal(err)
		}
	}
	if o := owed(first); !slices.Equal(o, []string{"started-without-check"}) {
		t.Errorf("started without a look, owed %v", o)
	}
	submit(t, c, first, "agent", "agent", "ether", "drops", "12")
	if o := owed(first); len(o) != 1 {
		t.Errorf("the first drop after the start owes again: %v", o)
	}
	submit(t, c, first, "phase", "phase", "handed-over")
	// A stop failed.
	second := begin("open-drop")
	check(t, c, "open-drop")
	look(t, c, "open-drop", "suction", term.KitStateFault, term.KitAnswerWithout)
	if h := open(second); len(h) != 1 || !slices.Equal(h[0].Failed, []string{"suction"}) || !strings.Contains(h[0].Words, "Suction") {
		t.Errorf("a failed stop: %+v", h)
	}
	submit(t, c, second, "agent", "agent", "ether", "drops", "12")
	if o := owed(second); !slices.Equal(o, []string{"stop-passed"}) {
		t.Errorf("past a failed stop, owed %v", o)
	}
	submit(t, c, second, "phase", "phase", "handed-over")
	// All good.
	clock.pass(time.Minute)
	third := begin("open-drop")
	check(t, c, "open-drop")
	if h := open(third); len(h) != 0 {
		t.Errorf("all is good and held: %+v", h)
	}
	submit(t, c, third, "phase", "phase", "anaesthesia-start")
	if o := owed(third); len(o) != 0 {
		t.Errorf("all was good, owed %v", o)
	}
}

func edit(t testing.TB, c *core.Companion, list string, e core.ListEdit) {
	t.Helper()
	f, err := c.ListForm(t.Context(), list)
	if err != nil {
		t.Fatal(err)
	}
	e.Seen = f.Version
	if _, err := c.EditList(t.Context(), core.NewID(), list, e); err != nil {
		t.Fatalf("%+v: %v", e, err)
	}
}

func TestEditedListKeepsOldWords(t *testing.T) {
	clock := newClock()
	dir := t.TempDir()
	c := openAt(t, dir, clock)
	ctx := t.Context()
	before := kitOf(t, c, "open-drop")
	check(t, c, "open-drop")
	day := clock.wall.Format(time.DateOnly)
	read := func() core.CheckDay {
		t.Helper()
		d, err := c.CheckDay(ctx, "open-drop", day)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	old := read()
	clock.pass(time.Hour)
	edit(t, c, "open-drop", core.ListEdit{Act: "change", Item: "suction", Name: "Foot pump", Look: "Step on it: it pulls.", Stop: true, Every: "daily"})
	edit(t, c, "open-drop", core.ListEdit{Act: "add", Name: "Torch & cells!", Look: "Bright.", Every: "daily"})
	edit(t, c, "open-drop", core.ListEdit{Act: "up", Item: "torch-cells"})
	edit(t, c, "open-drop", core.ListEdit{Act: "retire", Item: "gauze"})
	now := kitOf(t, c, "open-drop")
	if now.Version == before.Version || len(now.Items) != len(before.Items) {
		t.Errorf("version %s, %d items; before %s, %d", now.Version, len(now.Items), before.Version, len(before.Items))
	}
	if it := itemOf(t, now, "suction"); it.Name != "Foot pump" || it.State != "good" {
		t.Errorf("the item as it is now: %+v", it)
	}
	if n := len(now.Items); now.Items[n-2].Code != "torch-cells" {
		t.Errorf("the order: %s", now.Items[n-1].Code)
	}
	same := func(when string, got core.CheckDay) {
		t.Helper()
		if len(got.Looks) != len(old.Looks) {
			t.Fatalf("%s: %d looks, were %d", when, len(got.Looks), len(old.Looks))
		}
		for i, l := range got.Looks {
			if l != old.Looks[i] || !l.Worded {
				t.Errorf("%s: %+v, was %+v", when, l, old.Looks[i])
			}
		}
	}
	same("after the edit", read())
	// Also of a list that the clinic withdrew, and by a companion that knows
	// nothing yet.
	edit(t, c, "open-drop", core.ListEdit{Act: "withdraw"})
	if _, err := c.Kit(ctx, "open-drop"); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("a list that was withdrawn: %v", err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	c = openAt(t, dir, clock)
	same("opened anew", read())
	if _, err := c.UseAgain(ctx, core.NewID(), "open-drop"); err != nil {
		t.Fatal(err)
	}
	if k := kitOf(t, c, "open-drop"); k.Version != before.Version {
		t.Errorf("used again it is %s, was %s", k.Version, before.Version)
	}
}

func TestEditRefuses(t *testing.T) {
	c := openAt(t, t.TempDir(), newClock())
	ctx := t.Context()
	f, err := c.ListForm(ctx, "spinal")
	if err != nil {
		t.Fatal(err)
	}
	var field *timeline.FieldError
	if _, err := c.EditList(ctx, core.NewID(), "spinal", core.ListEdit{Act: "retire", Item: "suction", Seen: "another"}); !errors.As(err, &field) || field.Code != "changed" {
		t.Errorf("a list that was another: %v", err)
	}
	var ke *kit.Error
	for _, e := range []core.ListEdit{{Act: "add", Look: "x"}, {Act: "add", Name: "x"}, {Act: "change", Item: "none", Name: "x", Look: "y"}, {Act: "up", Item: "none"}, {Act: "fly"}, {Act: "add", Name: "x", Look: "y", Every: "hourly"}} {
		e.Seen = f.Version
		_, err := c.EditList(ctx, core.NewID(), "spinal", e)
		if !errors.As(err, &ke) {
			t.Errorf("%+v: %v", e, err)
			continue
		}
		if p := c.Explain(err); p.Status != 422 || strings.Contains(p.Words, "[") {
			t.Errorf("%+v: %+v", e, p)
		}
	}
	// A retry of an edit is one edit, though the list has changed by it.
	id := core.NewID()
	e := core.ListEdit{Act: "add", Name: "Lamp", Look: "Burns.", Seen: f.Version}
	for range 2 {
		if _, err := c.EditList(ctx, id, "spinal", e); err != nil {
			t.Fatal(err)
		}
	}
	if k := kitOf(t, c, "spinal"); itemOf(t, k, "lamp").Name != "Lamp" || len(k.Items) != len(f.Items)+1 {
		t.Errorf("%d items", len(k.Items))
	}
	var fe *kit.FileError
	if _, err := c.LayListFile(ctx, core.NewID(), "spinal.toml", []byte("name.en = \"x\"\nnonsense = 1\n")); !errors.As(err, &fe) || fe.Line != 2 {
		t.Errorf("a file at fault: %v", err)
	}
	edit(t, c, "spinal", core.ListEdit{Act: "retire", Item: "suction"})
	if k := kitOf(t, c, "spinal"); len(k.Lacking) != 1 || !strings.Contains(k.Lacking[0], "Suction") {
		t.Errorf("a stop that was left out: %v", k.Lacking)
	}
	if _, err := c.LayListFile(ctx, core.NewID(), "own.toml", []byte("name.en = \"Own\"\n[[item]]\ncode = \"a\"\nsource = \"us\"\nmark = \"practice\"\nname.en = \"A\"\nlook.en = \"B\"\n")); err != nil {
		t.Fatal(err)
	}
	if k := kitOf(t, c, "own"); len(k.Items) != 1 {
		t.Errorf("a list of the clinic's own: %+v", k)
	}
}

// shotWith makes a JPEG that says where it was taken, held sideways.
func shotWith(t testing.TB) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 40, 20))
	for x := range 40 {
		for y := range 20 {
			m.SetRGBA(x, y, color.RGBA{uint8(6 * x), 0, 0, 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	// One directory with orientation 6, and a place after it.
	exif := []byte("Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00GPSLatitude 1.2345")
	seg := binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(len(exif)+2))
	return slices.Concat(b.Bytes()[:2], seg, exif, b.Bytes()[2:], []byte("behind the end"))
}

func TestPhotographOfAFault(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	if _, err := c.AttachPhoto(ctx, core.NewID(), "open-drop", "suction", shotWith(t)); !errors.Is(err, core.ErrNotHere) {
		t.Errorf("nobody looked: %v", err)
	}
	look(t, c, "open-drop", "suction", term.KitStateFault, term.KitAnswerMended)
	clock.pass(time.Minute)
	for _, bad := range [][]byte{nil, []byte("GIF89a"), []byte("\xff\xd8\xff"), shotWith(t)[:60]} {
		if _, err := c.AttachPhoto(ctx, core.NewID(), "open-drop", "suction", bad); !errors.Is(err, core.ErrNotAPicture) {
			t.Errorf("%.10q: %v", bad, err)
		}
	}
	if _, err := c.AttachPhoto(ctx, core.NewID(), "open-drop", "suction", shotWith(t)); err != nil {
		t.Fatal(err)
	}
	it := itemOf(t, kitOf(t, c, "open-drop"), "suction")
	if it.State != "fault" || it.Photo == "" || it.At != "08:00" {
		t.Errorf("the look with its photograph: %+v", it)
	}
	data, err := c.Photo(ctx, "open-drop", it.Entry)
	if err != nil {
		t.Fatal(err)
	}
	for _, gone := range []string{"Exif", "GPS", "behind"} {
		if bytes.Contains(data, []byte(gone)) {
			t.Errorf("%q is still in the photograph", gone)
		}
	}
	m, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	// Held sideways it is upright now: what grew to the right grows downwards.
	top, _, _, _ := m.At(10, 2).RGBA()
	low, _, _, _ := m.At(10, 37).RGBA()
	if m.Bounds().Dx() != 20 || m.Bounds().Dy() != 40 || top>>8 > 60 || low>>8 < 180 {
		t.Errorf("%v, red %d above and %d below", m.Bounds(), top>>8, low>>8)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 3300, 10))); err != nil {
		t.Fatal(err)
	}
	if _, err := c.AttachPhoto(ctx, core.NewID(), "open-drop", "suction", b.Bytes()); err != nil {
		t.Fatal(err)
	}
	if data, err = c.Photo(ctx, "open-drop", it.Entry); err != nil {
		t.Fatal(err)
	}
	if m, err := jpeg.Decode(bytes.NewReader(data)); err != nil || m.Bounds().Dx() > 1600 {
		t.Errorf("a wide one: %v %v", m.Bounds(), err)
	}
	faults, err := c.Faults(ctx, false)
	if err != nil || len(faults) != 1 || !faults[0].Photo || faults[0].By != "" || faults[0].Item != "suction" || !faults[0].Stop {
		t.Errorf("%+v %v", faults, err)
	}
	var table bytes.Buffer
	if err := plain.WriteFaults(&table, "faults.csv", faults); err != nil || !strings.Contains(table.String(), "equipment,open-drop,suction,\"Suction, under the pillow\",fault,mended,true,") {
		t.Errorf("%s %v", &table, err)
	}
	table.Reset()
	if err := plain.WriteFaults(&table, "faults.jsonl", faults); err != nil || !strings.HasPrefix(table.String(), `{"what":"equipment","list":"open-drop","item":"suction"`) {
		t.Errorf("%s %v", &table, err)
	}
}

func FuzzPhotograph(f *testing.F) {
	f.Add(shotWith(f))
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00II\x2a\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, data []byte) {
		out, err := core.StripPicture(data)
		if err != nil {
			return
		}
		if _, err := jpeg.Decode(bytes.NewReader(out)); err != nil || bytes.Contains(out, []byte("Exif")) {
			t.Errorf("what came out: %v", err)
		}
	})
}

// Before the start every screen says what the equipment leaves open. What was
// read for it is kept: a tap asks the store a few times, however many lists,
// items and days there are. And what is kept is let go where it must be.
func TestTapBeforeStartReadsLittle(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	ctx := t.Context()
	id := openCase(t, c, "X")
	submit(t, c, id, "plan", "techniques", "open-drop", "techniques", "draw-over-mask", "techniques", "spinal", "agent", "ether")
	open := func() int {
		t.Helper()
		h, _, err := c.HeadOf(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, l := range h.Held {
			n += len(l.Failed) + len(l.Left)
		}
		return n
	}
	first := c.Reads()
	before := open()
	if n := c.Reads() - first; n < 31 || before == 0 {
		t.Fatalf("the first look reads each day: %d reads, %d stops open", n, before)
	}
	for range 3 {
		first = c.Reads()
		submit(t, c, id, "vitals", "pulse", "80")
		open()
		if n := c.Reads() - first; n > 2 {
			t.Errorf("a tap before the start read the store %d times", n)
		}
	}
	// A look changes what is kept.
	d := look(t, c, "open-drop", "suction", term.KitStateGood, "")
	if n := open(); n != before-1 {
		t.Errorf("after a look: %d stops open of %d", n, before)
	}
	// So does its correction,
	_, err := c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeClinic, About: d.Lines[0].Event.About, Amends: d.Lines[0].Event.ID, Replaces: []string{d.Lines[0].Event.ID}, Reason: term.ReasonList.Codes()[0],
		Payload: &timeline.KitItem{List: "open-drop", Version: d.Lines[0].Payload.(*timeline.KitItem).Version, Item: "suction", State: term.KitStateFault, Answer: term.KitAnswerMended}})
	if err != nil {
		t.Fatal(err)
	}
	if n := open(); n != before {
		t.Errorf("after its correction: %d stops open of %d", n, before)
	}
	// and another case that begins, or another day.
	check(t, c, "open-drop")
	check(t, c, "draw-over")
	check(t, c, "spinal")
	if n := open(); n != 0 {
		t.Fatalf("all good: %d stops open", n)
	}
	clock.pass(time.Minute)
	other := openCase(t, c, "Y")
	submit(t, c, other, "phase", "phase", "anaesthesia-start")
	between := open()
	if between == 0 {
		t.Error("a case has begun since the checks, and nothing is to be looked at again")
	}
	clock.pass(24 * time.Hour)
	if n := open(); n <= between {
		t.Errorf("the next day: %d stops open, %d after a case", n, between)
	}
}

// The page before the start says of the equipment what holds for its case: that
// the case began makes nothing due again on it, though it does for the next.
func TestStartSaysKitForItsCase(t *testing.T) {
	clock := newClock()
	c := openAt(t, t.TempDir(), clock)
	id := openCase(t, c, "X")
	submit(t, c, id, "plan", "techniques", "open-drop", "agent", "ether")
	check(t, c, "open-drop")
	clock.pass(time.Minute)
	submit(t, c, id, "phase", "phase", "anaesthesia-start")
	v := startOf(t, c, id)
	if len(v.Kits) != 1 || v.Kits[0].Stops != 0 {
		t.Errorf("of its own case: %+v", v.Kits)
	}
	if k := kitOf(t, c, "open-drop"); k.Stops == 0 {
		t.Error("for the next case nothing is to be looked at again")
	}
}
