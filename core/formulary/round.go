package formulary

import (
	"slices"

	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// syringes has the sizes in mL and how fine the marks on them are. Common
// practice; makers differ, and a syringe at hand may be marked otherwise.
var syringes = []struct{ size, mark string }{
	{"1", "0.01"}, {"2", "0.1"}, {"3", "0.1"}, {"5", "0.2"}, {"10", "0.5"}, {"20", "1"}, {"50", "1"},
}

// usualSyringes are those that count as at hand where nobody says which are.
var usualSyringes = []string{"1", "2", "5", "10", "20"}

// most that measuring may take off a dose, or add to a rescue dose.
const tolerance = "0.1"

// tiny is the volume in mL under which a weaker mixture is looked for: what
// the hub of syringe and needle holds is then as much as the dose. Common
// practice, no source. What may not be diluted says so in its file.
const tiny = "0.1"

// syringeMost is the volume in mL over which nobody draws a dose into
// syringes: it is run in. Common practice.
const syringeMost = "50"

// flowMarks is how finely an infusion is told, in mL/h: to 0.1 under 100, to 1
// under 1000, to 10 above. House choice, no source: three figures are what
// anybody sets or counts.
var flowMarks = []struct{ under, mark string }{{"100", "0.1"}, {"1000", "1"}, {"", "10"}}

func flowMark(flow *exact.Number) *exact.Number {
	for _, m := range flowMarks {
		if m.under == "" || flow.Cmp(exact.Of(m.under)) < 0 {
			return exact.Of(m.mark)
		}
	}
	return exact.Of(flowMarks[0].mark)
}

// figures is how many figures of a rate are told: what is set is the flow, and
// the rate follows from it.
const figures = 4

// cut cuts a number that is not negative after so many figures.
func cut(x *exact.Number) *exact.Number {
	if x.Sign() <= 0 {
		return x
	}
	step, most := exact.Of("0.000001"), exact.Whole(1)
	for range figures {
		most = most.Times(exact.Whole(10))
	}
	for x.Over(step).Cmp(most) >= 0 {
		step = step.Times(exact.Whole(10))
	}
	return x.Down(step)
}

// even gives a multiple of a mark that a mixture makes a dose of few decimals
// of: 20 mg in 60 mL go by 3 mL, which hold 1 mg. The mark itself where none of
// the first ten does.
func even(mark, strength *exact.Number) *exact.Number {
	for n := int64(1); n <= 10; n++ {
		m := mark.Times(exact.Whole(n))
		if dose := m.Times(strength); dose.DownTo(5).Cmp(dose) == 0 {
			return m
		}
	}
	return mark
}

// syringe is a size with its marks, in mL.
type syringe struct{ size, mark *exact.Number }

// atHand gives the syringes of a request, the smallest first.
func atHand(sizes []quantity.Amount) ([]syringe, error) {
	var list []syringe
	if len(sizes) == 0 {
		for _, s := range syringes {
			if slices.Contains(usualSyringes, s.size) {
				list = append(list, syringe{exact.Of(s.size), exact.Of(s.mark)})
			}
		}
		return list, nil
	}
	for _, a := range sizes {
		if a.Unit.Dimension() != quantity.Volume {
			return nil, &Error{Field: "syringes", Code: patient.WrongUnit, Given: a.String()}
		}
		size := in(a, quantity.ML)
		i := slices.IndexFunc(syringes, func(s struct{ size, mark string }) bool { return exact.Of(s.size).Cmp(size) == 0 })
		if i < 0 {
			return nil, &Error{Field: "syringes", Code: Unknown, Given: a.String()}
		}
		list = append(list, syringe{size, exact.Of(syringes[i].mark)})
	}
	slices.SortFunc(list, func(a, b syringe) int { return a.size.Cmp(b.size) })
	return list, nil
}

// holding gives the smallest syringe that holds a volume, or the largest there
// is, which then is filled more than once.
func holding(list []syringe, volume *exact.Number) syringe {
	for _, s := range list {
		if volume.Cmp(s.size) <= 0 {
			return s
		}
	}
	return list[len(list)-1]
}

// round brings a number to a multiple of mark: down, or for a rescue to the
// nearest that is not over the limit. ok says that no more than the tolerance
// was lost or won.
func (x *reckoning) round(from, mark, limit *exact.Number) (to *exact.Number, ok bool) {
	to = from.Down(mark)
	if x.u.Rescue {
		if near := from.Nearest(mark); near.Cmp(limit) <= 0 {
			to = near
		}
	}
	off := to.Minus(from)
	return to, to.Sign() > 0 && off.Abs().Cmp(from.Times(exact.Of(tolerance))) <= 0
}

// Volume gives how much of what the answer draws up holds another dose of the
// drug. ok says that a syringe that holds it has a mark there, and that what was
// made up is enough.
func (a *Answer) Volume(dose quantity.Amount) (volume quantity.Amount, ok bool) {
	if a.Draw == nil || a.Draw.Volume.IsZero() || a.Draw.Dilution == nil && a.Draw.Vials > 0 || dose.Unit.Dimension() != a.Suggested.Unit.Dimension() {
		return quantity.Amount{}, false
	}
	of := in(dose, a.Suggested.Unit).Over(in(a.Suggested, a.Suggested.Unit)).Times(in(a.Draw.Volume, quantity.ML))
	list, err := atHand(nil)
	if err != nil || of.Sign() <= 0 {
		return quantity.Amount{}, false
	}
	s := holding(list, of)
	enough := a.Draw.Dilution == nil || of.Cmp(in(a.Draw.Dilution.Total, quantity.ML)) <= 0
	return amountDown(of, decimals, quantity.ML), enough && of.Cmp(s.size) <= 0 && of.Down(s.mark).Cmp(of) == 0
}

// stock is what a dose can be drawn from: a presentation, or what somebody
// says is at hand.
type stock struct {
	*Presentation
	strength *exact.Number // in the measure's unit for each mL; nil where the dose is a volume
}

// shelved finds what the request wants the dose from.
func (x *reckoning) shelved() error {
	if _, err := atHand(x.Syringes); err != nil {
		return err
	}
	if s := x.Request.Strength; !s.IsZero() {
		if u, ok := strengths[x.m.what]; ok && s.Unit.Dimension() != u.Dimension() {
			return &Error{Field: "strength", Code: patient.WrongUnit, Given: s.String()}
		}
		if s.Value.Sign() <= 0 {
			return &Error{Field: "strength", Code: patient.TooLow, Given: s.String()}
		}
		if code := sane(s); code != "" {
			return &Error{Field: "strength", Code: code, Given: s.String()}
		}
	}
	if code := x.Presentation; code != "" {
		if x.d.Presentation(code) == nil {
			return &Error{Field: "presentation", Code: Unknown, Given: code}
		}
		if !slices.ContainsFunc(x.d.shelf(x.u, x.route), func(p *Presentation) bool { return p.Code == code }) {
			return &Error{Field: "presentation", Code: NotThisWay, Given: code}
		}
	}
	return nil
}

// stocks gives what the dose can be drawn from, in the order in which it is
// tried. Without a wish that is the shelf: where the first cannot measure the
// dose, the next may.
func (x *reckoning) stocks() []stock {
	var list []stock
	add := func(p *Presentation) {
		s := stock{Presentation: p}
		if u, ok := strengths[x.m.what]; ok && !p.Strength.IsZero() {
			s.strength = in(p.Strength, u)
			if !p.Powder.IsZero() {
				// What is printed may have lost decimals on the way.
				s.strength = in(p.Powder, measures[measure{what: x.m.what}]).Over(in(p.Dissolve, quantity.ML))
			}
		}
		list = append(list, s)
	}
	shelf := x.d.shelf(x.u, x.route)
	for _, p := range shelf {
		if x.Presentation == "" || x.Presentation == p.Code {
			add(p)
		}
	}
	at := x.Request.Strength
	if at.IsZero() {
		return list
	}
	for _, s := range list {
		if c, err := s.Strength.Cmp(at); err == nil && c == 0 {
			return []stock{s}
		}
	}
	list = nil
	add(&Presentation{Strength: at})
	return list
}

// measureOut finds how to measure the wanted dose, and suggests what comes of
// it.
func (x *reckoning) measureOut(want, limit *exact.Number) {
	switch {
	case x.m.what == quantity.Fraction:
		x.Suggested = x.tell(want)
		return
	case want.Sign() <= 0:
		return
	}
	for _, least := range []string{tiny, "0"} {
		for _, s := range x.stocks() {
			if x.from(s, want, limit, exact.Of(least)) {
				return
			}
		}
	}
	x.step(StepUnmeasurable, "", "", Named{"dose", x.tell(want)})
}

// from tries to measure the dose from a stock, in a volume of at least so many
// mL.
func (x *reckoning) from(s stock, want, limit, least *exact.Number) bool {
	if !s.Piece.IsZero() {
		return x.pieces(s, want, limit)
	}
	if x.m.what != quantity.Volume && s.strength == nil {
		return false
	}
	for _, m := range x.mixtures(s) {
		to, draw, steps := x.drawn(s, m, want, limit)
		if draw == nil || !x.m.perTime && in(draw.Volume, quantity.ML).Cmp(least) < 0 {
			continue
		}
		x.Draw = draw
		x.Steps = append(x.Steps, steps...)
		if x.m.perTime {
			x.Suggested = x.tellCut(to)
		} else {
			x.Suggested = x.tell(to)
		}
		return true
	}
	return false
}

func (x *reckoning) pieces(s stock, want, limit *exact.Number) bool {
	piece := in(s.Piece, x.base)
	part := exact.Whole(1)
	if !s.Part.IsZero() {
		part = exact.Of(s.Part.Value.String())
	}
	n, ok := x.round(want.Over(piece), part, limit.Over(piece))
	if n.Sign() <= 0 || x.u.Rescue && !ok {
		return false
	}
	x.Pieces = amountDown(n, decimals, quantity.One)
	x.Suggested = x.tell(n.Times(piece))
	x.Draw = &Draw{Presentation: s.Code}
	x.step(StepPieces, string(s.Form), s.Cited.Source, Named{"dose", x.tell(want)}, Named{"piece", s.Piece}, Named{"pieces", x.Pieces})
	return true
}

// drawn works out what a mixture of a stock gives of a dose; draw is nil where
// it does not measure it.
func (x *reckoning) drawn(s stock, m mixture, want, limit *exact.Number) (dose *exact.Number, draw *Draw, steps []Step) {
	strength := exact.Whole(1)
	draw = &Draw{Presentation: s.Code}
	told := Named{"dose", x.tell(want)}
	if x.m.what != quantity.Volume {
		strength = m.strength
		draw.Strength = m.tell
	}
	volume := want.Over(strength)
	most := limit.Over(strength)
	mark := flowMark(volume)
	code := StepFlow
	if !x.m.perTime {
		list, _ := atHand(x.Syringes)
		in := holding(list, volume)
		mark, code = in.mark, StepVolume
		if x.m.what != quantity.Volume {
			mark = even(mark, strength)
		}
		if volume.Cmp(exact.Of(syringeMost)) <= 0 {
			draw.Syringe, draw.Mark = amountDown(in.size, 0, quantity.ML), amountDown(mark, 2, quantity.ML)
			if volume.Cmp(in.size) <= 0 && in.size.Cmp(most) < 0 {
				most = in.size // the nearest mark may lie beyond the syringe
			}
		}
	}
	to, ok := x.round(volume, mark, most)
	if !ok {
		return nil, nil, nil
	}
	if m.rule != nil || m.parts != nil {
		if draw.Dilution = x.recipe(s, m, to); draw.Dilution == nil {
			return nil, nil, nil
		}
	}
	if !s.Powder.IsZero() {
		draw.Powder, draw.Dissolve = s.Powder, s.Dissolve
		draw.Vials = x.vials(s, draw.Dilution, exact.Min(want, to.Times(strength)))
		steps = append(steps, Step{StepDissolve, s.Code, []Named{{"powder", s.Powder}, {"dissolve", s.Dissolve}, {"strength", s.Strength}}, x.d.Sources[s.Cited.Source]})
	}
	if d := draw.Dilution; d != nil {
		steps = append(steps, Step{StepDilution, d.With, []Named{{"from", d.From}, {"take", d.Take}, {"add", d.Add}, {"total", d.Total}, {"strength", d.Strength}}, d.Source})
		if d.With == "" {
			steps = append(steps, Step{Code: StepDiluentOpen})
		}
	}
	unit := quantity.ML
	if x.m.perTime {
		unit = quantity.MLPerH
		x.Flow = amountDown(to, decimals, unit)
		told.Name = "rate"
	} else {
		draw.Volume = amountDown(to, decimals, unit)
	}
	name := map[StepCode]string{StepFlow: "flow", StepVolume: "volume"}[code]
	steps = append(steps, Step{Code: code, Values: []Named{told, {"strength", draw.Strength}, {name, amountDown(volume, decimals, unit)}}})
	if to.Cmp(volume) != 0 {
		code := StepRoundedDown
		if x.u.Rescue {
			code = StepRounded
		}
		steps = append(steps, Step{Code: code, Values: []Named{
			{"from", amountDown(volume, decimals, unit)}, {"to", amountDown(to, decimals, unit)}, {"mark", amountDown(mark, 2, unit)},
		}})
	}
	return to.Times(strength), draw, steps
}

// vials counts the vials of a powder that a dose takes, or the recipe that it
// is drawn from.
func (x *reckoning) vials(s stock, d *Dilution, dose *exact.Number) int {
	var n *exact.Number
	switch {
	case d != nil:
		n = in(d.Take, quantity.ML).Over(in(s.Dissolve, quantity.ML))
	case x.m.perTime:
		return 0
	default:
		n = dose.Over(in(s.Powder, x.base))
	}
	return int(n.Ceil().Int64())
}

// limitVolume says what the limit is in mL of what is drawn up, or of what is
// at hand where nothing was suggested.
func (x *reckoning) limitVolume(limit *exact.Number) {
	stocks := x.stocks()
	var volume *exact.Number
	switch {
	case x.m.perTime || x.m.what == quantity.Fraction || len(stocks) == 0 || !stocks[0].Piece.IsZero() && x.Draw == nil:
	case x.m.what == quantity.Volume:
		volume = limit
	case x.Draw != nil && !x.Draw.Strength.IsZero():
		volume = limit.Over(in(x.Draw.Strength, strengths[x.m.what]))
	case x.Draw == nil && stocks[0].strength != nil && !x.tooStrong(stocks[0].strength):
		volume = limit.Over(stocks[0].strength)
	}
	if volume != nil {
		x.LimitVolume = millilitres(volume)
	}
}

// millilitres cuts a volume to 0.1 mL, and to 0.01 under 1 mL.
func millilitres(v *exact.Number) quantity.Amount {
	if v.Cmp(exact.Whole(1)) < 0 {
		return amountDown(v, 2, quantity.ML)
	}
	return amountDown(v, 1, quantity.ML)
}
