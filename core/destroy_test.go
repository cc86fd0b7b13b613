package core_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// TestDestroyOnRequest: what the page promises to go is gone from every file,
// what it promises to stay stays, and the record says who asked and why.
func TestDestroyOnRequest(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	if _, err := d.c.NameAuthor(ctx, core.NewID(), "Ama Openly"); err != nil {
		t.Fatal(err)
	}
	other := openCase(t, d.c, "Somebody Otherwise")
	submit(t, d.c, other, "note", "text", "words that stay")
	d.closeCase(other)
	id := d.identity()
	// An entry that belongs to another patient is none of this one's.
	strayed := submit(t, d.c, id, "note", "text", "of the other patient").Lines[0]
	if _, err := d.c.Move(ctx, core.NewID(), id, other, strayed.Event.ID, []string{strayed.Event.ID}); err != nil {
		t.Fatal(err)
	}
	submit(t, d.c, id, "vitals", "pulse", "88")
	destroy := func(pin string) error {
		_, err := d.c.Destroy(ctx, core.NewID(), id, string(term.GroundsPatientAsked), string(term.AskedByGuardian), pin)
		return err
	}
	v, err := d.c.Destroying(ctx, id)
	if err != nil || len(v.Open) != 1 || v.Open[0].Case != id || v.PIN {
		t.Fatalf("of an open case: %+v (%v)", v, err)
	}
	if err := destroy(""); !errors.Is(err, core.ErrStillOpen) {
		t.Errorf("while the case is open: %v", err)
	}
	d.closeCase(id)
	if v, err = d.c.Destroying(ctx, id); err != nil || len(v.Open) != 0 || v.Names != 2 || v.Texts != 1 || v.Before != "" {
		t.Fatalf("%+v (%v)", v, err)
	}
	for field, try := range map[string]func() (core.Done, error){
		"grounds": func() (core.Done, error) {
			return d.c.Destroy(ctx, core.NewID(), id, "", string(term.AskedByPatient), "")
		},
		"asked_by": func() (core.Done, error) { return d.c.Destroy(ctx, core.NewID(), id, string(term.GroundsLaw), "", "") },
	} {
		var fault *timeline.FieldError
		if _, err := try(); !errors.As(err, &fault) || fault.Field != field {
			t.Errorf("without %s: %v", field, err)
		}
	}
	if len(holding(t, d.dir, invented...)) == 0 {
		t.Fatal("the identity was never in a file: the test shows nothing")
	}
	hidden := d.c.Hidden()
	event := core.NewID()
	for range 2 { // the second is a retry
		done, err := d.c.Destroy(ctx, event, id, string(term.GroundsPatientAsked), string(term.AskedByGuardian), "")
		if err != nil || len(done.Lines) != 1 {
			t.Fatalf("%+v %v", done, err)
		}
	}
	d.nowhere("after the destruction")
	if d.c.Hidden() == hidden {
		t.Error("whoever holds what was read is not told")
	}
	who, all := d.shows(id)
	if who != "case "+core.ShortCase(id) || !strings.Contains(all, "the patient asked; asked for by parent or guardian by Ama Openly") || !strings.Contains(all, "88") {
		t.Errorf("it shows %q, %s", who, all)
	}
	if who, all := d.shows(other); who != "Somebody Otherwise" || !strings.Contains(all, "words that stay") || !strings.Contains(all, "of the other patient") {
		t.Errorf("the other patient: %q, %s", who, all)
	}
	if err := destroy(""); !errors.Is(err, core.ErrNoNames) {
		t.Errorf("once more: %v", err)
	}
	if v, err = d.c.Destroying(ctx, id); err != nil || v.Names+v.Texts != 0 || v.Before == "" {
		t.Errorf("afterwards: %+v (%v)", v, err)
	}
	// What happened is not taken back by a tap, and its page offers none.
	entry, err := d.c.EntryOf(ctx, id, event)
	if err != nil || entry.CanStrike || entry.CanCorrect || len(entry.To) > 0 {
		t.Errorf("%+v %v", entry, err)
	}
	if _, err := d.c.Strike(ctx, core.NewID(), id, event, []string{event}, term.ReasonUndone); !errors.Is(err, core.ErrDestroyed) {
		t.Errorf("struck: %v", err)
	}
	if table, err := d.c.Table(ctx, id); err != nil || table.Undo != nil && strings.Contains(table.Undo.Text, "destroyed") {
		t.Errorf("undo offers %+v (%v)", table.Undo, err)
	}
	// What is written afterwards can be destroyed as well.
	submit(t, d.c, id, "note", "text", "I saw her at the well")
	if err := destroy(""); err != nil {
		t.Fatal(err)
	}
	d.nowhere("after the second")
	for _, err := range []error{core.ErrStillOpen, core.ErrNoNames, core.ErrDestroyed} {
		if p := d.c.Explain(err); p.Status != 409 || p.Words == "" {
			t.Errorf("%v: %+v", err, p)
		}
	}
	if r, err := d.c.Verify(ctx); err != nil || len(r.Findings) > 0 {
		t.Errorf("%v %+v", err, r)
	}
}

// TestDestroyAsksForThePIN: each time, also on a device that lies about
// unlocked; wrong ones are counted, and nothing is unlocked by a right one.
func TestDestroyAsksForThePIN(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	id := d.identity()
	d.closeCase(id)
	paper := d.setUp()
	destroy := func(pin string) error {
		_, err := d.c.Destroy(ctx, core.NewID(), id, string(term.GroundsLaw), string(term.AskedByAuthority), pin)
		return err
	}
	if v, err := d.c.Destroying(ctx, id); err != nil || !v.PIN || v.Paper || v.Wait != "" {
		t.Errorf("%+v %v", v, err)
	}
	before := d.c.Stored()
	for range 3 {
		if err := destroy(otherPIN); !errors.Is(err, core.ErrWrongPIN) {
			t.Errorf("while unlocked, with a wrong PIN: %v", err)
		}
	}
	var wait *core.WaitError
	if err := destroy(pin); !errors.As(err, &wait) {
		t.Errorf("the fourth try: %v", err)
	}
	if v, err := d.c.Destroying(ctx, id); err != nil || v.Wait == "" && d.state().Locked {
		t.Errorf("%+v %v", v, err)
	}
	if d.c.Stored() != before {
		t.Error("something was written")
	}
	d.clock.pass(72 * time.Hour)
	if s := d.state(); !s.Locked {
		t.Fatalf("%+v", s)
	}
	if v, err := d.c.Destroying(ctx, id); err != nil || v.Names != 2 || v.Texts != 1 {
		t.Errorf("what is sealed is not counted: %+v %v", v, err)
	}
	if err := destroy(pin); err != nil {
		t.Fatal(err)
	}
	if s := d.state(); !s.Locked || s.Wrong != 0 {
		t.Errorf("afterwards: %+v", s)
	}
	if err := d.c.Recover(ctx, paper); err != nil {
		t.Fatal(err)
	}
	if who, all := d.shows(id); slices.ContainsFunc(invented, func(x string) bool { return strings.Contains(who+all, x) }) {
		t.Errorf("unlocked it shows %q %s", who, all)
	}
}

// TestDestroyOfMotherAndChild: a child who has a case of its own keeps its
// name, one who has none goes with its mother.
func TestDestroyOfMotherAndChild(t *testing.T) {
	d := newDevice(t)
	ctx := t.Context()
	mother := openCase(t, d.c, "Quentin Inventedson")
	birth := func() string {
		done, err := d.c.Birth(ctx, core.Form{ID: core.NewID(), Case: mother, Fields: map[string][]string{"sex": {"female"}}})
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range done.Lines {
			if b, ok := l.Payload.(*timeline.Birth); ok {
				return b.Newborn
			}
		}
		t.Fatal("no birth")
		return ""
	}
	with, without := birth(), birth()
	own := core.NewID()
	if _, err := d.c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeClinic, About: without,
		Payload: &timeline.Person{Roles: []term.Role{term.RolePatient, term.RoleNewborn}}, Private: timeline.Private{timeline.PrivateName: "Child of Quentin"}}); err != nil {
		t.Fatal(err)
	}
	if _, err := d.c.Record(ctx, core.Tap{ID: core.NewID(), Scope: timeline.ScopeCase, About: own, Payload: &timeline.CaseOpened{Patient: with}}); err != nil {
		t.Fatal(err)
	}
	if _, err := d.c.NamePatient(ctx, core.NewID(), own, "Child Ownly", ""); err != nil {
		t.Fatal(err)
	}
	d.closeCase(mother)
	if v, err := d.c.Destroying(ctx, mother); err != nil || !v.Child || len(v.Open) != 0 {
		t.Fatalf("%+v %v", v, err)
	}
	if _, err := d.c.Destroy(ctx, core.NewID(), mother, string(term.GroundsPatientAsked), string(term.AskedByPatient), ""); err != nil {
		t.Fatal(err)
	}
	if where := holding(t, d.dir, "Quentin"); len(where) > 0 {
		t.Errorf("left: %q", where)
	}
	if who, _ := d.shows(own); who != "Child Ownly" {
		t.Errorf("the child is called %q", who)
	}
}
