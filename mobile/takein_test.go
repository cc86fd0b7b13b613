package mobile

import (
	"strconv"
	"strings"
	"testing"
)

// A file comes into a phone by Attach, in pieces, is looked at and taken in by
// taps; a backup leaves by the share sheet, and comes into a new phone.
func TestAttachToTakeIn(t *testing.T) {
	old, fresh := newDesk(t, t.TempDir()), newDesk(t, t.TempDir())
	id := old.asleep()
	hand := func(d *desk, file []byte) {
		t.Helper()
		const piece = 3000
		for at := 0; at < len(file); at += piece {
			path := TakeInPath + "?at=" + strconv.Itoa(at) + "&of=" + strconv.Itoa(len(file))
			if err := d.app.Attach(path, file[at:min(at+piece, len(file))]); err != nil {
				t.Fatal(err)
			}
		}
	}
	page := func(d *desk) string { return string(getPage(t, d.app, "/take-in").Body) }

	hand(fresh, getPage(t, old.app, "/case/"+id+"/files/lines.jsonl?private=yes").Body)
	fresh.do("/take-in", "do", "look")
	if html := page(fresh); !strings.Contains(html, `data-key="take"`) || !strings.Contains(html, "Every line fits") {
		t.Fatalf("%s", html)
	}
	if p := getPage(t, fresh.app, "/case/"+id+"/record"); p.Status != 404 {
		t.Errorf("the case is here before it was taken in: %d", p.Status)
	}
	fresh.do("/take-in", "do", "take")
	if html := page(fresh); !strings.Contains(html, "were taken in") || !strings.Contains(html, "Nothing was set aside") {
		t.Fatalf("%s", html)
	}
	if p := getPage(t, fresh.app, "/case/"+id+"/record"); p.Status != 200 {
		t.Errorf("the case is not here: %d", p.Status)
	}
	if err := fresh.app.Attach(TakeInPath+"?at=9&of=10", []byte("x")); err == nil || len(err.Error()) < 20 {
		t.Errorf("a piece of nothing: %v", err)
	}

	old.do("/backup", "do", "back-up", "passphrase", "an invented passphrase", "again", "an invented passphrase")
	backup := getPage(t, old.app, "/backup/device.tar.age")
	if backup.Name != "device.tar.age" || backup.Status != 200 {
		t.Fatalf("%d %q", backup.Status, backup.Name)
	}
	third := newDesk(t, t.TempDir())
	hand(third, backup.Body)
	// The chooser stood before the app.
	if err := third.app.Suspend(); err != nil {
		t.Fatal(err)
	}
	if err := third.app.Resume(); err != nil {
		t.Fatal(err)
	}
	third.do("/take-in", "do", "look", "secret", "another passphrase")
	if html := page(third); !strings.Contains(html, "does not open it") || strings.Contains(html, `data-key="take"`) {
		t.Errorf("%s", html)
	}
	third.do("/take-in", "do", "look", "secret", "an invented passphrase")
	third.do("/take-in", "do", "take")
	if html := page(third); !strings.Contains(html, "begins with the last line of the device that was lost") {
		t.Errorf("%s", html)
	}
	if p := getPage(t, third.app, "/case/"+id+"/record"); p.Status != 200 {
		t.Errorf("the case is not here: %d", p.Status)
	}
}
