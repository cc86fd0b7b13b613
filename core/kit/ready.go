package kit

import (
	"fmt"

	"chinlift/core/term"
)

// MonthDays is how long a monthly look stands. Common practice, no source.
const MonthDays = 31

// Found is what the last look at an item found, and how much has been since.
type Found struct {
	State term.KitState
	Cases int // anaesthetics begun since that look
	Days  int // days of the calendar since that look; 0 is today
}

// Readiness is what a list says from what was found; codes of items, in the
// order of the list. An item is in one place at most, and in none where it was
// found good and nothing is due.
type Readiness struct {
	StopsFailed []string // stops found at fault or not here
	StopsLeft   []string // stops not looked at, or so long ago that they are due from the beginning
	RestFailed  []string
	RestLeft    []string
	Between     []string // found good, and to be looked at again because a case has been since

	Ready bool // no stop failed, is left, or is due between cases
}

// Readiness says from what was found, by code of item, what stands in the way
// of a case and what is due. What was found at items that the list does not
// have is passed over. The error is an *Error for "found.<item>".
//
// Source of looking again between cases: Association of Anaesthetists of Great
// Britain and Ireland, Checking Anaesthetic Equipment, 2012: a shorter set of
// checks before each new patient and after any change.
func (l *List) Readiness(found map[string]Found) (Readiness, error) {
	r := Readiness{Ready: true}
	for _, it := range l.Items {
		f, looked := found[it.Code]
		if looked {
			if err := f.check("found." + it.Code); err != nil {
				return Readiness{}, err
			}
		}
		into := func(list *[]string) {
			*list = append(*list, it.Code)
			r.Ready = r.Ready && !it.Stop
		}
		failed, left := &r.RestFailed, &r.RestLeft
		if it.Stop {
			failed, left = &r.StopsFailed, &r.StopsLeft
		}
		switch {
		case !looked:
			into(left)
		case f.State != term.KitStateGood:
			into(failed)
		case it.due(f):
			into(left)
		case it.Between && f.Cases > 0:
			into(&r.Between)
		}
	}
	return r, nil
}

// due reports whether the item is to be looked at from the beginning.
func (it Item) due(f Found) bool {
	switch it.Every {
	case Daily:
		return f.Days > 0
	case Monthly:
		return f.Days >= MonthDays
	}
	return f.Cases > 0 || f.Days > 0
}

func (f Found) check(field string) error {
	switch {
	case f.State == "":
		return &Error{Field: field, Code: Missing}
	case !term.KitStateList.Has(f.State):
		return &Error{Field: field, Code: UnknownCode, Given: string(f.State)}
	case f.Cases < 0 || f.Days < 0:
		return &Error{Field: field, Code: TooLow, Given: fmt.Sprintf("%d cases, %d days", f.Cases, f.Days), Low: "0"}
	}
	return nil
}
