package uptake

import (
	"math"

	"chinlift/core/agent"
	"chinlift/core/term"
)

// Range is an estimate: the value and what it may lie between. The unit is in
// the name of what holds it.
type Range struct{ Low, Value, High float64 }

// Exactly is a range that is one value.
func Exactly(x float64) Range { return Range{x, x, x} }

// Times multiplies by a factor that is a range too; both are not negative.
func (r Range) Times(f Range) Range { return Range{r.Low * f.Low, r.Value * f.Value, r.High * f.High} }

// Scale multiplies by a number.
func (r Range) Scale(x float64) Range { return Range{r.Low * x, r.Value * x, r.High * x} }

// tidy puts the ends where rounding left them on the wrong side of the value.
func (r Range) tidy() Range {
	return Range{math.Min(r.Low, r.Value), r.Value, math.Max(r.High, r.Value)}
}

func rangeOf(n agent.Number) Range {
	low, high := n.Span()
	return Range{low, n.Value, high}
}

func (r Range) sound(field string, low, high float64) error {
	for _, x := range []float64{r.Low, r.Value, r.High} {
		if err := within(field, x, low, high); err != nil {
			return err
		}
	}
	if r.Low > r.Value || r.Value > r.High {
		return &agent.Error{Field: field, Code: agent.Contradicts}
	}
	return nil
}

// Band runs one body through ranges of what nobody knows exactly: one run by
// the values, and two, by the lowest and the highest inspired tension, in each
// corner of the settings. What the runs span is the estimate. It is not a
// confidence interval: nobody knows how likely the corners are.
type Band struct {
	body    Body
	models  []*Model // the values, then the corners
	states  []State  // the values, then low and high inspired for each corner
	corners int
}

// OutputSpread is what a caller who knows no more spreads the output by.
var OutputSpread = agent.Source{Author: "house choice", Title: "a quarter to either side of the output at rest", Mark: term.MarkPractice}

// Corners gives a setting at the ends of alveolar flow and output, four of them.
func Corners(s Setting, alveolarLPerMin, outputLPerMin Range) []Setting {
	var all []Setting
	for _, alveolar := range []float64{alveolarLPerMin.Low, alveolarLPerMin.High} {
		for _, output := range []float64{outputLPerMin.Low, outputLPerMin.High} {
			c := s
			c.AlveolarLPerMin, c.OutputLPerMin = alveolar, output
			all = append(all, c)
		}
	}
	return all
}

// NewBand makes a band of a body without the agent. The errors are those of New.
func NewBand(b Body, value Setting, corners ...Setting) (*Band, error) {
	band := &Band{body: b, corners: len(corners), states: make([]State, 1+2*len(corners))}
	return band, band.Change(value, corners...)
}

// Change gives the runs new settings, from here on: as many corners, in the same
// order, as the band was made with. On an error, of New or for "corners", the
// band is as it was.
func (b *Band) Change(value Setting, corners ...Setting) error {
	if len(corners) != b.corners {
		return &agent.Error{Field: "corners", Code: agent.Contradicts}
	}
	models := make([]*Model, 0, 1+len(corners))
	for _, s := range append([]Setting{value}, corners...) {
		m, err := New(b.body, s)
		if err != nil {
			return err
		}
		models = append(models, m)
	}
	b.models = models
	return nil
}

// run gives the model of a state, and which inspired tension it gets.
func (b *Band) run(state int, inspired Range) (*Model, float64) {
	switch {
	case state == 0:
		return b.models[0], inspired.Value
	case state%2 == 1:
		return b.models[(state+1)/2], inspired.Low
	}
	return b.models[state/2], inspired.High
}

// Step takes all runs so many minutes on. The errors are those of Model.Step,
// and for a range out of order.
func (b *Band) Step(inspiredMmHg Range, minutes float64) error {
	if err := inspiredMmHg.sound("inspired", 0, 1000); err != nil {
		return err
	}
	if err := within("minutes", minutes, 0, longestMin); err != nil {
		return err
	}
	for i := range b.states {
		m, inspired := b.run(i, inspiredMmHg)
		if err := m.Step(&b.states[i], inspired, minutes); err != nil {
			return err
		}
	}
	return nil
}

// TensionMmHg gives what the runs have in a place.
func (b *Band) TensionMmHg(p Place) Range {
	r := Exactly(b.states[0].TensionMmHg[p])
	for _, s := range b.states {
		r.Low, r.High = math.Min(r.Low, s.TensionMmHg[p]), math.Max(r.High, s.TensionMmHg[p])
	}
	return r
}

// Value gives the run by the values.
func (b *Band) Value() State { return b.states[0] }

// Wait is how long until something happens. Where Open is true the last run is
// not there within the limit, which stands in High then, and in Value or Low
// where they are not there either.
type Wait struct {
	Minutes Range
	Open    bool
}

// Washout gives how long until the brain comes down to a tension that is a range
// itself, such as that of waking, when nothing is inspired any more, up to a
// limit of minutes. The errors are those of Model.Until.
func (b *Band) Washout(targetMmHg Range, limitMin float64) (Wait, error) {
	if err := targetMmHg.sound("target", 0, 1000); err != nil {
		return Wait{}, err
	}
	var wait Wait
	until := func(i int, target float64) (float64, error) {
		if b.states[i].TensionMmHg[Brain] <= target {
			return 0, nil
		}
		m, _ := b.run(i, Range{})
		minutes, reached, err := m.Until(b.states[i], Brain, target, 0, limitMin)
		if !reached {
			wait.Open = true
			minutes = limitMin
		}
		return minutes, err
	}
	var err error
	if wait.Minutes.Value, err = until(0, targetMmHg.Value); err != nil {
		return Wait{}, err
	}
	wait.Minutes.Low, wait.Minutes.High = wait.Minutes.Value, wait.Minutes.Value
	for i := range b.states {
		soon, err := until(i, targetMmHg.High)
		if err != nil {
			return Wait{}, err
		}
		late, err := until(i, targetMmHg.Low)
		if err != nil {
			return Wait{}, err
		}
		wait.Minutes.Low, wait.Minutes.High = math.Min(wait.Minutes.Low, soon), math.Max(wait.Minutes.High, late)
	}
	return wait, nil
}
