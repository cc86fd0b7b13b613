package plain

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/quantity"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

// printed is when the papers say that they were printed.
var printed = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// demos gives a companion with the invented cases.
func demos(t *testing.T) *core.Companion {
	t.Helper()
	all := demo.Files()
	var files [][]byte
	for _, name := range slices.Sorted(maps.Keys(all)) {
		files = append(files, all[name])
	}
	return taken(t, files...)
}

// key is an invented key of pseudonyms: 32 bytes, each its own number.
func pseudonyms() PseudonymKey {
	k := make(PseudonymKey, keyBytes)
	for i := range k {
		k[i] = byte(i)
	}
	return k
}

// TestManifest: what the manifest says is so, and every way in which a folder
// can differ from it is found.
func TestManifest(t *testing.T) {
	c := demos(t)
	for _, o := range []Options{{Private: true, Made: printed}, {Made: printed}, {Pseudonyms: pseudonyms()}} {
		dir := t.TempDir()
		written := must.Get[[]string](t)(Export(t.Context(), c, dir, o))
		m, faults, err := CheckFolder(dir)
		if err != nil || len(faults) > 0 || m.Form != o.Form() || len(m.Files) != len(written)-1 {
			t.Fatalf("%s: %v, %v; %d files of %d", o.Form(), err, faults, len(m.Files), len(written))
		}
		if err := validate(t, compiled(t, "manifest"), must.Get[[]byte](t)(os.ReadFile(filepath.Join(dir, ManifestName)))); err != nil {
			t.Error(err)
		}
	}
	dir := t.TempDir()
	must.Get[[]string](t)(Export(t.Context(), c, dir, Options{Made: printed}))
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("vitals.csv", "x")
	write("stranger.txt", "x")
	if err := os.Remove(filepath.Join(dir, "drugs.csv")); err != nil {
		t.Fatal(err)
	}
	_, faults, err := CheckFolder(dir)
	var got []string
	for _, f := range faults {
		got = append(got, f.Code+" "+f.File)
	}
	slices.Sort(got)
	if want := []string{"file-changed vitals.csv", "file-missing drugs.csv", "file-unknown stranger.txt"}; err != nil || !slices.Equal(got, want) {
		t.Errorf("%v, %v; want %v", got, err, want)
	}
	write(ManifestName, "{")
	if _, faults, err := CheckFolder(dir); err != nil || len(faults) != 1 || faults[0].Code != "bad-manifest" {
		t.Errorf("a manifest that cannot be read: %v, %v", faults, err)
	}
	if err := os.Remove(filepath.Join(dir, ManifestName)); err != nil {
		t.Fatal(err)
	}
	if _, faults, err := CheckFolder(dir); err != nil || len(faults) != 1 || faults[0].Code != "no-manifest" {
		t.Errorf("no manifest: %v, %v", faults, err)
	}
}

func TestManifestLeadsNowhere(t *testing.T) {
	hash := strings.Repeat("0", 64)
	file := func(name, sum string) string {
		return fmt.Sprintf(`{"format":"chinlift-export/1","form":"with-private","files":[{"name":%q,"bytes":1,"sha256":%q}]}`, name, sum)
	}
	if _, err := ReadManifest(strings.NewReader(file("lines.jsonl", hash))); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{file("../lines.jsonl", hash), file("/etc/passwd", hash), file("", hash), file("a/b", hash), file("..", hash), file(`a\b`, hash),
		file(ManifestName, hash), file("lines.jsonl", "0"), file("lines.jsonl", strings.Repeat("x", 64)), "", "[]", `{"format":"another/1"}`} {
		if m, err := ReadManifest(strings.NewReader(bad)); err == nil {
			t.Errorf("%s was read as %+v", bad, m)
		}
	}
}

func FuzzReadManifest(f *testing.F) {
	f.Add([]byte(`{"format":"chinlift-export/1","form":"with-private","files":[{"name":"a","bytes":1,"sha256":"` + strings.Repeat("0", 64) + `"}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := ReadManifest(bytes.NewReader(data))
		for _, file := range m.Files {
			if err == nil && !filepath.IsLocal(file.Name) {
				t.Fatalf("%q leads out of the folder", file.Name)
			}
		}
	})
}

// TestSealed: a sealed export holds the same files, opens with the right key
// or passphrase only, and shows each changed byte and each cut.
func TestSealed(t *testing.T) {
	c := demos(t)
	k := must.Get[Key](t)(NewKey())
	other := must.Get[Key](t)(NewKey())
	const words = "an invented passphrase"
	plainDir := t.TempDir()
	must.Get[[]string](t)(Export(t.Context(), c, plainDir, Options{Private: true, Made: printed}))
	opens := func(secret string) Unseal { return must.Get[Unseal](t)(Unseal{}.With(strings.NewReader(secret))) }
	for name, tt := range map[string]struct {
		seal  Seal
		right Unseal
		wrong []Unseal
	}{
		"recipient":  {must.Get[Seal](t)(SealFor(k.Recipient())), opens(k.Secret()), []Unseal{{}, opens(other.Secret()), Unseal{}.WithPassphrase(words)}},
		"two":        {must.Get[Seal](t)(SealFor(other.Recipient(), k.Recipient())), opens(k.Secret()), []Unseal{{}}},
		"passphrase": {must.Get[Seal](t)(SealWith(words)), Unseal{}.WithPassphrase(words), []Unseal{{}, opens(k.Secret()), Unseal{}.WithPassphrase(words + "!")}},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			written := must.Get[[]string](t)(Export(t.Context(), c, dir, Options{Private: true, Made: printed, Seal: tt.seal}))
			if _, faults, err := CheckFolder(dir); err != nil || len(faults) > 0 {
				t.Fatal(faults, err)
			}
			n := 0
			for _, file := range written {
				base, sealed := strings.CutSuffix(file, Sealed)
				if !sealed || file == keyFile {
					continue
				}
				n++
				if base != "lines.jsonl" && name == "passphrase" {
					continue // scrypt takes its time: one file shows it
				}
				r := must.Get[io.ReadCloser](t)(tt.right.OpenFile(filepath.Join(dir, file)))
				got := must.Get[[]byte](t)(io.ReadAll(r))
				r.Close()
				want := must.Get[[]byte](t)(os.ReadFile(filepath.Join(plainDir, base)))
				if !bytes.Equal(got, want) {
					t.Errorf("%s differs when it is opened", file)
				}
			}
			if n != len(Names())+len(ClinicNames())+2*3 { // three cases, two files each
				t.Errorf("%d sealed files", n)
			}
			path := filepath.Join(dir, "lines.jsonl"+Sealed)
			data := must.Get[[]byte](t)(os.ReadFile(path))
			if bytes.Contains(data, []byte("Invented")) || bytes.Contains(data, []byte(`"kind"`)) {
				t.Error("what is sealed can be read")
			}
			for i, wrong := range tt.wrong {
				if _, err := wrong.OpenFile(path); !errors.Is(err, ErrSealed) {
					t.Errorf("wrong key %d: %v", i, err)
				}
			}
		})
	}
	dir := t.TempDir()
	must.Get[[]string](t)(Export(t.Context(), c, dir, Options{Made: printed, Seal: must.Get[Seal](t)(SealFor(k.Recipient()))}))
	data := must.Get[[]byte](t)(os.ReadFile(filepath.Join(dir, "lines.jsonl"+Sealed)))
	read := func(data []byte) error {
		r, err := opens(k.Secret()).Open(bytes.NewReader(data))
		if err == nil {
			_, err = io.ReadAll(r)
		}
		return err
	}
	if err := read(data); err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		i := rapid.IntRange(len(ageMagic), len(data)-1).Draw(t, "place")
		if read(data[:i]) == nil {
			t.Fatalf("cut to %d of %d bytes it opens", i, len(data))
		}
		changed := slices.Clone(data)
		changed[i] ^= byte(rapid.IntRange(1, 255).Draw(t, "change"))
		if read(changed) == nil {
			t.Fatalf("with byte %d changed it opens", i)
		}
	})
}

func TestBadKeys(t *testing.T) {
	for _, text := range []string{"", "age1", "age1xyz", "ssh-ed25519 AAAA", must.Get[Key](t)(NewKey()).Secret()} {
		if _, err := SealFor(text); !errors.Is(err, ErrKey) {
			t.Errorf("sealed for %q: %v", text, err)
		}
	}
	if _, err := SealFor(); !errors.Is(err, ErrKey) {
		t.Error("sealed for nobody")
	}
	if _, err := SealWith("too short"); !errors.Is(err, ErrKey) {
		t.Error("a short passphrase was taken")
	}
	if _, err := (Unseal{}).With(strings.NewReader("nonsense")); !errors.Is(err, ErrKey) {
		t.Errorf("a key file with nonsense: %v", err)
	}
	for _, text := range []string{"", "00", strings.Repeat("g", 64), strings.Repeat("0", 66)} {
		if _, err := ParsePseudonymKey(text); !errors.Is(err, ErrKey) {
			t.Errorf("%q is a key", text)
		}
	}
	k := must.Get[PseudonymKey](t)(NewPseudonymKey())
	if back := must.Get[PseudonymKey](t)(ParsePseudonymKey(k.String() + "\n")); !bytes.Equal(back, k) {
		t.Error("a key reads otherwise than it was written")
	}
	if _, err := Export(t.Context(), demos(t), t.TempDir(), Options{Private: true, Pseudonyms: k}); !errors.Is(err, ErrForms) {
		t.Errorf("private and de-identified at once: %v", err)
	}
}

// TestQR: the picture of a key that is handed over reads as that key, and its
// margin is as wide as a camera needs.
func TestQR(t *testing.T) {
	for range 8 { // of several masks
		want := must.Get[Key](t)(NewKey()).Recipient()
		if got := readQR(t, must.Get[[]byte](t)(QR(want))); got != want {
			t.Errorf("the picture of %s reads %q", want, got)
		}
	}
}

// readQR reads a QR code of version 4 and level M in byte mode, as ISO/IEC 18004
// (2015) lays it out: 33 modules a side in a margin of 4 (6.3.8), two blocks of
// 32 codewords of data (table 9). It corrects no error: a picture that was made
// and not photographed has none.
func readQR(t *testing.T, picture []byte) string {
	t.Helper()
	const n, margin, dataCodewords = 33, 4, 64
	img := must.Get[image.Image](t)(png.Decode(bytes.NewReader(picture)))
	wide := img.Bounds().Dx()
	scale := wide / (n + 2*margin)
	if scale < 4 || wide != scale*(n+2*margin) || img.Bounds().Dy() != wide {
		t.Fatalf("a picture of %v", img.Bounds())
	}
	dark := func(row, column int) int {
		if r, _, _, _ := img.At((column+margin)*scale+scale/2, (row+margin)*scale+scale/2).RGBA(); r < 0x8000 {
			return 1
		}
		return 0
	}
	for i := -margin; i < n+margin; i++ {
		for _, at := range [][2]int{{-1, i}, {n, i}, {i, -1}, {i, n}} {
			if dark(at[0], at[1]) == 1 {
				t.Fatalf("the margin is dark at %v", at)
			}
		}
	}
	// The level and the mask, around the upper left corner.
	format := 0
	for _, at := range [][2]int{{8, 0}, {8, 1}, {8, 2}, {8, 3}, {8, 4}, {8, 5}, {8, 7}, {8, 8}, {7, 8}, {5, 8}, {4, 8}, {3, 8}, {2, 8}, {1, 8}, {0, 8}} {
		format = format<<1 | dark(at[0], at[1])
	}
	format ^= 0x5412
	if level := format >> 13; level != 0 {
		t.Fatalf("the level is %02b, want 00: M", level)
	}
	masks := []func(i, j int) int{
		func(i, j int) int { return (i + j) % 2 }, func(i, _ int) int { return i % 2 }, func(_, j int) int { return j % 3 }, func(i, j int) int { return (i + j) % 3 },
		func(i, j int) int { return (i/2 + j/3) % 2 }, func(i, j int) int { return i*j%2 + i*j%3 }, func(i, j int) int { return (i*j%2 + i*j%3) % 2 }, func(i, j int) int { return ((i+j)%2 + i*j%3) % 2 },
	}
	mask := masks[format>>10&7]
	// Finders with the format beside them, timing, and the one alignment pattern.
	taken := func(i, j int) bool {
		return i < 9 && (j < 9 || j >= n-8) || i >= n-8 && j < 9 || i == 6 || j == 6 || i >= 24 && i <= 28 && j >= 24 && j <= 28
	}
	var codewords []byte
	bits, count, up := 0, 0, true
	for right := n - 1; right > 0; right -= 2 {
		if right == 6 {
			right--
		}
		for k := range n {
			i := k
			if up {
				i = n - 1 - k
			}
			for _, j := range []int{right, right - 1} {
				if taken(i, j) {
					continue
				}
				bit := dark(i, j)
				if mask(i, j) == 0 {
					bit ^= 1
				}
				bits, count = bits<<1|bit, count+1
				if count%8 == 0 {
					codewords = append(codewords, byte(bits))
				}
			}
		}
		up = !up
	}
	var data []byte
	for block := range 2 {
		for k := block; k < dataCodewords; k += 2 {
			data = append(data, codewords[k])
		}
	}
	if mode := data[0] >> 4; mode != 0b0100 {
		t.Fatalf("the mode is %04b, want 0100: bytes", mode)
	}
	var text []byte
	for k := range int(data[0]<<4 | data[1]>>4) {
		text = append(text, data[k+1]<<4|data[k+2]>>4)
	}
	return string(text)
}

// TestEveryMemberIsThoughtOf: each member of each kind that goes out
// de-identified either goes or stays by name.
func TestEveryMemberIsThoughtOf(t *testing.T) {
	for kind, keep := range keeps {
		p := timeline.Blank(kind)
		if p == nil {
			t.Errorf("%s is no kind", kind)
			continue
		}
		names := slices.Sorted(maps.Keys(membersOf(p)))
		listed := slices.Sorted(slices.Values(append(slices.Clone(keep), drops[kind]...)))
		if !slices.Equal(names, listed) {
			t.Errorf("%s has the members %v; thought of were %v", kind, names, listed)
		}
	}
	for kind := range drops {
		if keeps[kind] == nil {
			t.Errorf("%s stays behind altogether", kind)
		}
	}
}

// TestNothingFreeGoesOut: what goes out is an amount, a count, yes or no, or a
// code of a closed list, by its type; what is none of these is named here, with
// the list that bounds it.
func TestNothingFreeGoesOut(t *testing.T) {
	bounded := map[string]string{
		"facts.side_marked":  "yes or no",
		"facts.pregnant":     "yes or no",
		"facts.smoker":       "yes or no",
		"facts.sick_before":  "yes or no",
		"facts.reflux":       "yes or no",
		"facts.risks_told":   "yes or no",
		"facts.assistant":    "yes or no",
		"facts.premature":    "yes or no",
		"airway.cuff":        "yes or no",
		"plan.opioids_after": "yes or no",
		"birth.cried":        "yes or no",
		"phase.home":         "yes or no",
		"waking.confused":    "yes or no",
		"waking.steady":      "yes or no",
		"block.catheter":     "yes or no",
		"follow-up.answer":   "yes or no",
		"vitals.same":        "names of measures, each of which is there",
		"drug.drug":          "by strip",
		"infusion.drug":      "by strip",
		"plan.drugs":         "by strip",
		"airway.size":        "a decimal",
		"plan.step_times":    "an amount and a code of term.Step",
		"trouble.card":       "a card of the program",
		"waking.met":         "of a list of the program",
		"waking.not_met":     "of a list of the program",
		"follow-up.question": "of a list of the program",
		"depth.model":        "of the model",
		"depth.drift":        "of the model",
		"depth.course":       "amounts, and reasons of the model",
		"depth.leads":        "amounts, and codes of the model",
	}
	for kind, keep := range keeps {
		for name, typ := range membersOf(timeline.Blank(kind)) {
			if !slices.Contains(keep, name) {
				continue
			}
			at := typ
			for at.Kind() == reflect.Slice || at.Kind() == reflect.Pointer {
				at = at.Elem()
			}
			closed := at.Kind() == reflect.Bool || at.Kind() == reflect.Int || at == reflect.TypeFor[quantity.Amount]() || at.Kind() == reflect.String && strings.HasSuffix(at.PkgPath(), "core/term")
			if key := kind + "." + name; !closed && bounded[key] == "" {
				t.Errorf("%s goes out as a %s", key, typ)
			}
		}
	}
}

// membersOf gives the members of a payload, each with its type; those of a part
// that it takes in are its own.
func membersOf(p timeline.Payload) map[string]reflect.Type {
	all := map[string]reflect.Type{}
	var walk func(reflect.Type)
	walk = func(typ reflect.Type) {
		for f := range typ.Fields() {
			if f.Anonymous {
				walk(f.Type)
				continue
			}
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			all[name] = f.Type
		}
	}
	walk(reflect.TypeOf(p).Elem())
	return all
}

// TestLinkAloneStaysBehind: that two cases are of one patient stays behind, and
// leaves no entry that says nothing.
func TestLinkAloneStaysBehind(t *testing.T) {
	c, clock := companion(t)
	one, two := small(t, c, clock)
	write := func() string {
		var b bytes.Buffer
		if err := Write(t.Context(), &b, c, deidentifiedName, Options{Pseudonyms: pseudonyms()}); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	before := write()
	must.Get[core.Done](t)(c.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: one, Payload: &timeline.Facts{SameAs: two}}))
	must.Get[core.Done](t)(c.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: one, Payload: &timeline.Plan{Start: timeline.MomentOf(clock.wall.Add(time.Hour), "")}}))
	if after := write(); after != before {
		t.Errorf("a link and a planned start go out as\n%s\nbefore\n%s", after, before)
	}
	must.Get[core.Done](t)(c.Record(t.Context(), core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: one, Payload: &timeline.Facts{SameAs: two, ASA: "2"}}))
	if after := write(); strings.Count(after, "\n") != strings.Count(before, "\n")+1 {
		t.Errorf("facts beside a link go out as\n%s", after)
	}
}

// TestDeidentified: nothing of what names a person, a case, a device or a day
// is in the file; what is in it fits the schema; and it is the same each time.
func TestDeidentified(t *testing.T) {
	c := demos(t)
	write := func(key PseudonymKey) []byte {
		var b bytes.Buffer
		if err := Write(t.Context(), &b, c, deidentifiedName, Options{Pseudonyms: key}); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	data := write(pseudonyms())
	if !bytes.Equal(data, write(pseudonyms())) {
		t.Error("a second projection differs")
	}
	var private bytes.Buffer
	if err := Write(t.Context(), &private, c, "lines.jsonl", Options{Private: true}); err != nil {
		t.Fatal(err)
	}
	looked := 0
	for l, err := range ReadLines(&private) {
		if err != nil {
			t.Fatal(err)
		}
		secrets := []string{l.Event.ID, l.Event.Log, l.Event.About, l.Event.Author, string(l.H), l.Event.At.Format("2006-01-02"), l.Event.At.Format("15:04:05")}
		for k, v := range l.Private {
			if k != timeline.PrivateSalt {
				secrets = append(secrets, v)
			}
		}
		if d, ok := l.Payload.(*timeline.Drug); ok && d.Batch != "" {
			secrets = append(secrets, d.Batch)
		}
		for _, s := range secrets {
			looked++
			if len(s) > 3 && bytes.Contains(data, []byte(s)) {
				t.Fatalf("%q is in the file", s)
			}
		}
	}
	if looked < 2000 {
		t.Errorf("only %d secrets were looked for", looked)
	}
	s := compiled(t, "deidentified")
	cases, devices := map[string]int{}, map[string]bool{}
	for line := range bytes.Lines(data) {
		if err := validate(t, s, line); err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		l := must.Get[Deidentified](t)(ReadDeidentified(line))
		cases[l.Case]++
		devices[l.Device] = true
		if l.N != cases[l.Case] {
			t.Errorf("entry %d of a case is numbered %d", cases[l.Case], l.N)
		}
	}
	if len(cases) != 3 || len(devices) < 2 { // three invented cases, three logs
		t.Errorf("%d cases, %d devices", len(cases), len(devices))
	}
	another := pseudonyms()
	another[0]++
	for line := range bytes.Lines(write(another)) {
		if l := must.Get[Deidentified](t)(ReadDeidentified(line)); cases[l.Case] > 0 || devices[l.Device] {
			t.Fatal("with another key a pseudonym is the same")
		}
	}
}

// Ages: the published limit is 90 (45 CFR 164.514(b)(2)(i)(C)).
func TestCoarseAge(t *testing.T) {
	for in, want := range map[string]string{
		"34 a": "34 a", "34.9 a": "34 a", "89 a": "89 a", "89.99 a": "89 a", "90 a": "90 a", "91 a": "90 a", "120 a": "90 a",
		"23 mo": "23 mo", "24 mo": "2 a", "25 mo": "2 a", "10 d": "0 mo", "6 wk": "1 mo", "1.5 a": "18 mo", "0 d": "0 mo",
	} {
		if got := must.Get[quantity.Amount](t)(coarseAge(quantity.MustParse(in))); got.String() != want {
			t.Errorf("%s goes out as %s, want %s", in, got, want)
		}
	}
}

// A drug whose code was made up at a clinic might hold anything.
func TestMadeUpDrugStaysBehind(t *testing.T) {
	c, clock := companion(t)
	one, _ := small(t, c, clock)
	if _, err := c.Submit(t.Context(), form(one, "drug", "drug", "for-mr-invented", "dose", "5", "dose_unit", "mg", "route", "iv")); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := Write(t.Context(), &b, c, deidentifiedName, Options{Pseudonyms: pseudonyms()}); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "for-mr-invented") || !strings.Contains(b.String(), `"drug":"other"`) {
		t.Errorf("the made-up drug:\n%s", b.String())
	}
}

func FuzzReadDeidentified(f *testing.F) {
	f.Add([]byte(`{"case":"0","device":"0","n":1,"minute":-3,"kind":"vitals/1","data":{"pulse":"80 /min"}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := ReadDeidentified(data)
		if err != nil {
			return
		}
		for name := range l.Data {
			if !slices.Contains(keeps[l.Kind.Name()], name) {
				t.Fatalf("member %q was let in", name)
			}
		}
	})
}

func FuzzOpen(f *testing.F) {
	f.Add([]byte("age-encryption.org/v1\n-> X25519 x\ny\n--- z\n"))
	f.Add([]byte("plain"))
	u, err := (Unseal{}).With(strings.NewReader(must.Get[Key](f)(NewKey()).Secret()))
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := u.Open(bytes.NewReader(data))
		if err != nil {
			return
		}
		got, err := io.ReadAll(r)
		if err == nil && !bytes.Equal(got, data) {
			t.Fatal("what nobody sealed for this key was opened")
		}
	})
}
