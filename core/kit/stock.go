package kit

import (
	"fmt"
	"slices"
	"time"

	"chinlift/core/exact"
	"chinlift/core/quantity"
)

// Lot is a batch of a drug or of something that is used up, as it lies on the
// shelf. Counts are in what is counted: 12 1 for ampoules, 250 mL for a liquid.
type Lot struct {
	Item    string // code
	Batch   string
	Expires string // 2026-11-25, or 2026-11 for its last day; absent for what does not run out
	Count   quantity.Amount
}

// Due is a lot with the days until its last one; under 0 where that is over.
type Due struct {
	Lot  Lot
	Days int
}

// Expiring gives the lots whose day is over on a day, and those whose last day
// comes within so many days; the earliest first, of one day in the order of
// lots. On its last day a lot is still good. Lots of which nothing is left are
// left out. An *Error names lots[i].expires or lots[i].count, "on" or "days".
func Expiring(lots []Lot, on string, within int) (over, soon []Due, err error) {
	today, err := day("on", on)
	if err != nil {
		return nil, nil, err
	}
	if within < 0 {
		return nil, nil, &Error{Field: "days", Code: TooLow, Given: fmt.Sprint(within), Low: "0"}
	}
	for i, l := range lots {
		if err := countOK(fmt.Sprintf("lots[%d].count", i), l.Count); err != nil {
			return nil, nil, err
		}
		if l.Expires == "" {
			continue
		}
		last, err := day(fmt.Sprintf("lots[%d].expires", i), l.Expires)
		if err != nil {
			return nil, nil, err
		}
		switch n := days(today, last); {
		case l.Count.Value.Sign() == 0 || n > within:
		case n < 0:
			over = append(over, Due{l, n})
		default:
			soon = append(soon, Due{l, n})
		}
	}
	byDay := func(a, b Due) int { return a.Days - b.Days }
	slices.SortStableFunc(over, byDay)
	slices.SortStableFunc(soon, byDay)
	return over, soon, nil
}

func countOK(field string, a quantity.Amount) error {
	switch {
	case a.Value.IsZero() || a.Unit.IsZero():
		return &Error{Field: field, Code: Missing}
	case a.Value.Sign() < 0:
		return &Error{Field: field, Code: TooLow, Given: a.String(), Low: "0 " + a.Unit.String()}
	}
	return nil
}

// day reads a day of the calendar, or a month as its last day.
func day(field, s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, &Error{Field: field, Code: Missing}
	}
	if t, err := time.Parse(time.DateOnly, s); err == nil {
		return t, nil
	}
	if t, err := time.Parse("2006-01", s); err == nil {
		return t.AddDate(0, 1, -1), nil
	}
	return time.Time{}, &Error{Field: field, Code: NotReadable, Given: s}
}

// days counts from one day to another.
func days(from, to time.Time) int { return int(to.Sub(from) / (24 * time.Hour)) }

// Movement is something that happened to a stock.
type Movement struct {
	What   What
	Amount quantity.Amount
}

// What happened to a stock.
type What string

// The movements.
const (
	Counted  What = "counted" // the amount is what was found
	Received What = "received"
	Used     What = "used"
	Gone     What = "gone" // broken, thrown away, given away, lost
)

// Stock is what the movements leave.
type Stock struct {
	OnHand     quantity.Amount // in the unit of the first movement; may be under 0
	CountAgain bool            // more went than was there since the last count
	Counted    bool            // there was a count
	Off        quantity.Amount // the last count less what was reckoned then; absent where none was before
	Since      int             // movements since the last count
}

// OnHand adds up movements in their order. A count stands over all that was
// reckoned before it. A stock under nought is no error: something was not
// written down, and CountAgain says so until somebody counts. With no movement
// nothing is known: an *Error for "movements"; others name movements[i].amount
// or movements[i].what.
func OnHand(movements []Movement) (Stock, error) {
	if len(movements) == 0 {
		return Stock{}, &Error{Field: "movements", Code: Missing}
	}
	var s Stock
	u := movements[0].Amount.Unit
	sum := new(exact.Number)
	for i, m := range movements {
		field := fmt.Sprintf("movements[%d]", i)
		if err := countOK(field+".amount", m.Amount); err != nil {
			return Stock{}, err
		}
		x, err := read(field+".amount", m.Amount, u, "0", "")
		if err != nil {
			return Stock{}, err
		}
		s.Since++
		switch m.What {
		case Counted:
			s.Off = quantity.Amount{}
			if i > 0 {
				s.Off = x.Minus(sum).Amount(exact.Places, u)
			}
			sum, s.Counted, s.CountAgain, s.Since = x, true, false, 0
		case Received:
			sum = sum.Plus(x)
		case Used, Gone:
			sum = sum.Minus(x)
		case "":
			return Stock{}, &Error{Field: field + ".what", Code: Missing}
		default:
			return Stock{}, &Error{Field: field + ".what", Code: UnknownCode, Given: string(m.What)}
		}
		if sum.Sign() < 0 {
			s.CountAgain = true
		}
	}
	s.OnHand = sum.Amount(exact.Places, u)
	return s, nil
}
