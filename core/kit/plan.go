package kit

import (
	"fmt"
	"slices"
	"time"

	"chinlift/core/exact"
	"chinlift/core/quantity"
)

// Need is what a case takes of one item, from Low to High; High stands alone
// where Low is absent.
type Need struct {
	Item      string
	Low, High quantity.Amount
}

// Case is a planned case.
type Case struct {
	Day   string // 2026-11-25
	Needs []Need
}

// Enough says whether a stock is enough.
type Enough string

// The answers of [Supply].
const (
	Sure   Enough = "sure"   // also if every case takes the most, with the margin
	Unsure Enough = "unsure" // if the cases take the least, not if they take the most
	No     Enough = "no"     // not even if every case takes the least
)

// Supply says of one item whether it is enough for the planned cases. Amounts
// are in the unit of the first need of it. They are a range because nobody
// knows what a case will take.
type Supply struct {
	Item      string
	OnHand    quantity.Amount // on the day of asking, without what has run out
	Low, High quantity.Amount // what all cases together take, without the margin
	Enough    Enough
	Cases     int             // how many cases, from the first, are surely covered
	AtBest    int             // and how many if each takes the least
	Until     string          // day of the last case that is surely covered; empty where none is
	Order     quantity.Amount // what is lacking for all cases at the most, with the margin; 0 where nothing is
	Lost      quantity.Amount // what runs out unused before the last case
}

// Plan says item by item, in the order of the cases, whether the lots on hand on
// a day are enough for planned cases with a margin (0 to 300 %), until when, and
// what to order. Lots that run out first are taken first, and none after its
// last day. Cases are in the order of their days, none before the day of asking;
// several may be on one day. An *Error names lots[i]…, cases[i]…, "margin" or
// "on".
func Plan(lots []Lot, cases []Case, on string, margin quantity.Amount) ([]Supply, error) {
	today, err := day("on", on)
	if err != nil {
		return nil, err
	}
	extra, err := read("margin", margin, quantity.Percent, "0", "300")
	if err != nil {
		return nil, err
	}
	factor := exact.Of("1").Plus(extra.Over(exact.Of("100")))
	p, err := readCases(cases, today)
	if err != nil {
		return nil, err
	}
	var all []Supply
	for _, item := range p.items {
		u := p.units[item]
		shelf, err := readLots(lots, item, u, today)
		if err != nil {
			return nil, err
		}
		s := Supply{Item: item}
		low, high, most := p.needs(item)
		sum := func(list []*exact.Number) *exact.Number {
			x := new(exact.Number)
			for _, y := range list {
				x = x.Plus(y)
			}
			return x
		}
		have := new(exact.Number)
		for _, l := range shelf {
			have = have.Plus(l.left)
		}
		for i := range most {
			most[i] = high[i].Times(factor)
		}
		sure, short, lost := p.run(shelf, most)
		best, _, _ := p.run(shelf, low)
		s.OnHand = have.DownTo(exact.Places).Amount(exact.Places, u)
		s.Low, s.High = sum(low).Amount(exact.Places, u), sum(high).Amount(exact.Places, u)
		s.Cases, s.AtBest = sure, best
		s.Order, s.Lost = short.UpTo(3).Amount(3, u), lost.DownTo(3).Amount(3, u)
		if sure > 0 {
			s.Until = cases[sure-1].Day
		}
		switch {
		case sure == len(cases):
			s.Enough = Sure
		case best == len(cases):
			s.Enough = Unsure
		default:
			s.Enough = No
		}
		all = append(all, s)
	}
	return all, nil
}

// planned is the cases as they were read.
type planned struct {
	days  []time.Time
	low   []map[string]*exact.Number
	high  []map[string]*exact.Number
	items []string
	units map[string]quantity.Unit
}

func readCases(cases []Case, today time.Time) (*planned, error) {
	if len(cases) == 0 {
		return nil, &Error{Field: "cases", Code: Missing}
	}
	p := &planned{units: map[string]quantity.Unit{}}
	last, lastField := today, "on"
	for i, c := range cases {
		field := fmt.Sprintf("cases[%d]", i)
		d, err := day(field+".day", c.Day)
		if err != nil {
			return nil, err
		}
		if d.Before(last) {
			return nil, &Error{Field: field + ".day", Code: Contradicts, Given: c.Day + " before " + lastField}
		}
		last, lastField = d, field
		low, high := map[string]*exact.Number{}, map[string]*exact.Number{}
		for j, n := range c.Needs {
			field := fmt.Sprintf("%s.needs[%d]", field, j)
			if n.Item == "" {
				return nil, &Error{Field: field + ".item", Code: Missing}
			}
			if low[n.Item] != nil {
				return nil, &Error{Field: field + ".item", Code: Twice, Given: n.Item}
			}
			u, ok := p.units[n.Item]
			if !ok {
				u = n.High.Unit
				p.units[n.Item] = u
				p.items = append(p.items, n.Item)
			}
			if err := countOK(field+".high", n.High); err != nil {
				return nil, err
			}
			if high[n.Item], err = read(field+".high", n.High, u, "0", ""); err != nil {
				return nil, err
			}
			low[n.Item] = high[n.Item]
			if !n.Low.IsZero() {
				if low[n.Item], err = read(field+".low", n.Low, u, "0", ""); err != nil {
					return nil, err
				}
			}
			if low[n.Item].Cmp(high[n.Item]) > 0 {
				return nil, &Error{Field: field + ".low", Code: Contradicts, Given: n.Low.String(), High: n.High.String()}
			}
		}
		p.days, p.low, p.high = append(p.days, d), append(p.low, low), append(p.high, high)
	}
	return p, nil
}

// needs gives what each case takes of an item; most is as long and empty.
func (p *planned) needs(item string) (low, high, most []*exact.Number) {
	of := func(all []map[string]*exact.Number) []*exact.Number {
		list := make([]*exact.Number, len(all))
		for i, m := range all {
			if list[i] = m[item]; list[i] == nil {
				list[i] = new(exact.Number)
			}
		}
		return list
	}
	return of(p.low), of(p.high), make([]*exact.Number, len(p.high))
}

// lot is a lot on the shelf; a zero last is for ever.
type lot struct {
	last time.Time
	left *exact.Number
}

// readLots gives the lots of an item that are good today, those that run out
// first in front.
func readLots(lots []Lot, item string, u quantity.Unit, today time.Time) ([]lot, error) {
	var shelf []lot
	for i, l := range lots {
		if l.Item != item {
			continue
		}
		field := fmt.Sprintf("lots[%d]", i)
		if err := countOK(field+".count", l.Count); err != nil {
			return nil, err
		}
		n, err := read(field+".count", l.Count, u, "0", "")
		if err != nil {
			return nil, err
		}
		var last time.Time
		if l.Expires != "" {
			if last, err = day(field+".expires", l.Expires); err != nil {
				return nil, err
			}
			if last.Before(today) {
				continue
			}
		}
		shelf = append(shelf, lot{last, n})
	}
	slices.SortStableFunc(shelf, func(a, b lot) int {
		switch {
		case a.last.IsZero() || b.last.IsZero():
			return boolInt(a.last.IsZero()) - boolInt(b.last.IsZero())
		default:
			return a.last.Compare(b.last)
		}
	})
	return shelf, nil
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// run takes from the shelf what the cases take, in turn: how many cases from the
// first are covered, how much all of them lack, and what runs out unused.
func (p *planned) run(shelf []lot, takes []*exact.Number) (covered int, short, lost *exact.Number) {
	shelf = slices.Clone(shelf)
	short, lost = new(exact.Number), new(exact.Number)
	for i, need := range takes {
		for n, l := range shelf {
			if !l.last.IsZero() && l.last.Before(p.days[i]) {
				continue
			}
			part := exact.Min(l.left, need)
			shelf[n].left, need = l.left.Minus(part), need.Minus(part)
		}
		short = short.Plus(need)
		if need.Sign() == 0 && covered == i {
			covered++
		}
	}
	for _, l := range shelf {
		if !l.last.IsZero() && l.last.Before(p.days[len(p.days)-1]) {
			lost = lost.Plus(l.left)
		}
	}
	return covered, short, lost
}
