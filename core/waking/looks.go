package waking

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Recovery is how far a patient is in recovery.
type Recovery struct {
	Since quantity.Amount // since arrival, 0 to 7 d
	// Last is how long ago pressure, pulse and breaths were last looked at;
	// absent: not yet. A look before arrival is none.
	Last   quantity.Amount
	Steady bool // whoever watches calls the patient steady; not asked is no
}

// Due is when the next look falls due.
type Due struct {
	Every  quantity.Amount // min; the distance from the last look; absent before the first
	In     quantity.Amount // whole minutes from now, rounded down; 0 when it is due
	Over   quantity.Amount // whole minutes since it was due, rounded down; absent where it is not over
	Source patient.Source
}

var schedule = patient.Source{Title: "anaesthesia module of a ministry of health: pressure, pulse and breaths every 5 minutes for 15 minutes or until stable, then every 15; saturation without a break until awake", Via: "the page of the course", Mark: term.MarkRead}

// NextLook says when pressure, pulse and breaths are due: at once on arrival,
// every 5 minutes until 15 minutes have passed and the patient is steady,
// whichever is later, and every 15 minutes from then on. The published rule has
// an "or" there, which may be read either way; the later is the safer. What
// counts is how it stood at the last look. Source: schedule.
func NextLook(r Recovery) (Due, error) {
	const week = "604800" // seconds; catches a slip of the hand
	since, err := patient.Read("since", r.Since, quantity.Second, "0", week)
	if err != nil {
		return Due{}, err
	}
	d := Due{In: minutes(0), Source: schedule}
	due := new(exact.Number) // since arrival
	if !r.Last.IsZero() {
		ago, err := patient.Read("last", r.Last, quantity.Second, "0", week)
		if err != nil {
			return Due{}, err
		}
		if at := since.Minus(ago); at.Sign() >= 0 {
			every := int64(5)
			if r.Steady && at.Cmp(exact.Whole(15*60)) >= 0 {
				every = 15
			}
			d.Every = minutes(every)
			due = at.Plus(exact.Whole(every * 60))
		}
	}
	left := due.Minus(since)
	if left.Sign() > 0 {
		d.In = left.Over(exact.Whole(60)).Floor().Amount(0, quantity.Minute)
	} else if over := left.Neg().Over(exact.Whole(60)).Floor(); over.Sign() > 0 {
		d.Over = over.Amount(0, quantity.Minute)
	}
	return d, nil
}
