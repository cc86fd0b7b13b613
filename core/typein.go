package core

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"strconv"
	"time"

	"chinlift/core/timeline"
)

// Row is one row of a paper record. Name is what the names of its fields on
// the page begin with, and N the row's place under its heading, from 1.
type Row struct {
	Form
	Name string
	N    int
}

// RowError is a fault in one row of what was typed in.
type RowError struct {
	Row Row
	Err error
}

func (e *RowError) Error() string { return fmt.Sprintf("%s row %d: %v", e.Row.Kind, e.Row.N, e.Err) }

func (e *RowError) Unwrap() error { return e.Err }

// ErrNothingTyped says that every row was empty.
var ErrNothingTyped = errors.New("nothing was typed in")

// TypeIn records what was written on paper while no companion was at hand: all
// rows, or none and a *RowError. Each row has its clock time in at; day is the
// date on the paper, 2006-01-02, or empty for the last 24 hours. The entries
// are late ones, and show as such.
func (c *Companion) TypeIn(ctx context.Context, id, caseID, day string, rows []Row) (Done, error) {
	now := c.clock.Now()
	var date time.Time
	if day != "" {
		var err error
		if date, err = time.ParseInLocation("2006-01-02", day, now.Wall.Location()); err != nil || date.After(now.Wall) {
			return Done{}, &timeline.FieldError{Kind: "note", Field: "date", Code: "not-a-time", Detail: day}
		}
	}
	c.doseMu.Lock()
	defer c.doseMu.Unlock()
	var taps, owed []Tap
	var doses []given
	for i, row := range rows {
		f := row.Form
		f.Fields = maps.Clone(f.Fields)
		f.ID, f.Case = derived(id, strconv.Itoa(i)), caseID
		if _, err := c.before(ctx, &f); err != nil {
			return Done{}, &RowError{row, err}
		}
		text := f.one("at")
		if text == "" {
			return Done{}, &RowError{row, &timeline.FieldError{Kind: f.Kind, Field: "at", Code: "missing"}}
		}
		if t, err := time.Parse("15:04", text); err == nil && !date.IsZero() {
			y, m, d := date.Date()
			at := time.Date(y, m, d, t.Hour(), t.Minute(), 0, 0, now.Wall.Location())
			if at.After(now.Wall.Add(5 * time.Minute)) {
				return Done{}, &RowError{row, &timeline.FieldError{Kind: f.Kind, Field: "at", Code: "to-come"}}
			}
			f.Fields["at"] = []string{timeline.MomentOf(at, now.Zone).String()}
		}
		tap, err := f.tap(now)
		if err != nil {
			return Done{}, &RowError{row, err}
		}
		debts, err := c.freeze(ctx, &f, &tap, nil, doses)
		if err != nil {
			return Done{}, &RowError{row, err}
		}
		owed = append(owed, debts...)
		if g, ok := givenBy(tap.Payload, tap.At.Time, c.givingSet(ctx, tap.At.Time)); ok {
			doses = append(doses, g)
		}
		taps = append(taps, tap)
	}
	if len(taps) == 0 {
		return Done{}, ErrNothingTyped
	}
	done, err := c.Record(ctx, append(taps, owed...)...)
	if len(done.Lines) > len(taps) {
		done.Lines = done.Lines[:len(taps)]
	}
	return done, err
}
