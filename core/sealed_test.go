package core_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/quantity"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// jpegBegins is how the pictures begin that are kept: as Go writes them.
const jpegBegins = "\xff\xd8\xff\xdb\x00\x84\x00"

// plainShot is another picture than shotWith's.
func plainShot(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 30, 30))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestSealedAsWritten holds the list of docs/sealing.md against what the files
// hold and what a locked device shows: a word of its own is written into each
// thing that the list names, and looked for in every byte and every file name.
func TestSealedAsWritten(t *testing.T) {
	doc, err := os.ReadFile("../docs/sealing.md")
	if err != nil {
		t.Fatal(err)
	}
	type row struct{ files, locked string }
	written := map[string]row{}
	for _, m := range regexp.MustCompile(`(?m)^\| ([^|]+) \| (sealed|clear) \| ([^|]+) \|$`).FindAllStringSubmatch(string(doc), -1) {
		written[m[1]] = row{m[2], m[3]}
	}
	four, err := quantity.Parse("4 1")
	if err != nil {
		t.Fatal(err)
	}
	const ofCase, always = "while the case is open, and 48 hours after", "always"

	for _, setUp := range []string{"before", "after"} {
		t.Run("set up "+setUp, func(t *testing.T) {
			d := newDevice(t)
			ctx := t.Context()
			must := func(done core.Done, err error) core.Done {
				t.Helper()
				if err != nil {
					t.Fatal(err)
				}
				return done
			}
			if setUp == "before" {
				d.setUp()
				d.c.Lock()
			}
			if _, err := d.c.NameAuthor(ctx, core.NewID(), "Planted-staff"); err != nil {
				t.Fatal(err)
			}
			id := openCase(t, d.c, "Planted-patient")
			must(d.c.NamePatient(ctx, core.NewID(), id, "", "planted-number"))
			submit(t, d.c, id, "note", "text", "planted-note")
			submit(t, d.c, id, "plan", "text", "planted-plan", "operation", "hernia")
			submit(t, d.c, id, "facts", "allergies", "drug", "text", "planted-allergy")
			submit(t, d.c, id, "team", "role", "surgeon", "text", "planted-team")
			submit(t, d.c, id, "drug", "drug", "atropine", "dose", "0.4", "dose_unit", "mg", "route", "iv", "batch", "PLANTED-BATCH")
			casePhoto := must(d.c.AttachToCase(ctx, core.NewID(), id, shotWith(t))).Lines[0]
			must(d.c.CheckItem(ctx, core.NewID(), "open-drop", "suction", term.KitStateFault, term.KitAnswerBorrowed))
			kitPhoto := must(d.c.AttachPhoto(ctx, core.NewID(), "open-drop", "suction", plainShot(t))).Lines[0]
			must(d.c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeClinic, About: "open-drop 2026-03-02", Payload: &timeline.KitItem{List: "open-drop", Version: string(store.Sum(nil)), Item: "gauze", State: term.KitStateFault},
				Private: timeline.Private{timeline.PrivateText: "planted-equipment"}}))
			must(d.c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeClinic, About: "stock", Payload: &timeline.Stock{What: term.StockWhatDisposable, Act: term.StockActReceived, Item: "gauze", Count: four},
				Private: timeline.Private{timeline.PrivateText: "planted-stock"}}))
			seen, err := d.c.Kit(ctx, "open-drop")
			if err != nil {
				t.Fatal(err)
			}
			must(d.c.EditList(ctx, core.NewID(), "open-drop", core.ListEdit{Act: "add", Seen: seen.Version, Name: "Planted-item", Look: "look at it"}))
			if err := d.c.SetLocal(ctx, core.LocalHand, "planted-setting"); err != nil {
				t.Fatal(err)
			}
			photo := func(l *timeline.Line) string { return l.Private[timeline.PrivatePhoto] }
			things := map[string][]string{
				"name and record number of a patient":                                         {"Planted-patient", "planted-number"},
				"words of a case: notes, the surgeon's words, allergies, who was on the team": {"planted-note", "planted-plan", "planted-allergy", "planted-team"},
				"photographs of a case":                                                       nil,
				"names of those who work here":                                                {"Planted-staff"},
				"words about equipment and stock":                                             {"planted-equipment", "planted-stock"},
				"photographs of equipment":                                                    nil,
				"values, drugs, times, ages, batches":                                         {"PLANTED-BATCH", `"dose":"0.4 mg"`, "atropine"},
				"lists and drug files of the clinic's own, with every word in them":           {"Planted-item"},
				"settings of the device, such as its hand":                                    {"planted-setting"},
			}
			if len(things) != len(written) {
				t.Errorf("the list names %d things, and %d are tried", len(written), len(things))
			}
			d.closeCase(id)
			if setUp == "after" {
				for what, words := range things {
					for _, w := range words {
						if len(holding(t, d.dir, w)) == 0 {
							t.Errorf("%s: %s was never in a file: the test shows nothing", what, w)
						}
					}
				}
				if len(holding(t, d.dir, jpegBegins)) == 0 {
					t.Error("no photograph was ever in a file")
				}
				d.setUp()
			}
			d.clock.pass(72 * time.Hour)
			if d.c.LockOverdue(ctx); !d.state().Locked {
				t.Fatalf("%+v", d.state())
			}
			// What a locked device can read of it, beside the open part.
			var readable strings.Builder
			if err := d.c.All(ctx, func(l *timeline.Line) error { readable.Write(l.P); return nil }); err != nil {
				t.Fatal(err)
			}
			shown := func(data []byte, err error) bool {
				if err != nil {
					return false
				}
				_, bad := jpeg.DecodeConfig(bytes.NewReader(data))
				return bad == nil
			}
			for what, words := range things {
				is, ok := written[what]
				if !ok {
					t.Errorf("the list does not name %q", what)
					continue
				}
				for _, w := range words {
					if in := holding(t, d.dir, w); (len(in) > 0) != (is.files == "clear") {
						t.Errorf("%s: the list says %s in the files, and %q lies in %q", what, is.files, w, in)
					}
					if is.files == "sealed" && strings.Contains(readable.String(), w) != (is.locked == always) {
						t.Errorf("%s: the list says %s, and %q can be read: %v", what, is.locked, w, strings.Contains(readable.String(), w))
					}
				}
				switch what {
				case "photographs of a case":
					if got := shown(d.c.CasePhoto(ctx, id, casePhoto.Event.ID)); got || is.locked != ofCase {
						t.Errorf("a photograph of a locked case can be seen: %v; the list says %s", got, is.locked)
					}
				case "photographs of equipment":
					day, err := d.c.CheckDay(ctx, "open-drop", "2026-03-02")
					if err != nil {
						t.Fatal(err)
					}
					i := slices.IndexFunc(day.Looks, func(l core.CheckLook) bool { return l.Photo != "" })
					if i < 0 || is.locked != always {
						t.Fatalf("no photograph on the page of that day; the list says %s", is.locked)
					}
					p := strings.Split(day.Looks[i].Photo, "/")
					if data, err := d.c.Photo(ctx, "open-drop", p[len(p)-1]); !shown(data, err) {
						t.Errorf("a photograph of equipment cannot be seen: %v", err)
					}
				}
			}
			// No picture of any kind lies in the clear, and no name of a file tells
			// what is in one.
			if in := holding(t, d.dir, jpegBegins); len(in) > 0 {
				t.Errorf("a photograph lies in the clear: %q", in)
			}
			if photo(casePhoto) == "" || photo(kitPhoto) == "" {
				t.Error("the photographs are named by nothing: the test shows nothing")
			}
		})
	}
}
