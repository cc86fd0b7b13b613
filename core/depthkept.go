package core

import (
	"context"
	"math"
	"slices"
	"time"

	"chinlift/core/agent"
	"chinlift/core/depth"
	"chinlift/core/quantity"
	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// What is shown of depth is kept: an entry (depth/1) has the range, or why there
// was none, the times ahead, and the version of the model, so that the record
// can tell what somebody had before them whatever the model says later. It is
// kept when the sheet is opened. From then on the band on the record is taken
// along with what is recorded: after a sign, a vital sign, a change of what is
// given. That comes after the tap is stored, at most once a minute unless an
// estimate came or went, and never where it would take long; what is left out
// comes with the next. Nobody taps for it. The drawn band shows what was kept
// and nothing else, so that it costs no simulation to draw, and stays.
const (
	depthKeptAgain = time.Minute      // house choices
	depthFollows   = 15 * time.Minute // how long ago what is recorded may have been
	depthReach     = 25 * time.Minute // of bodies, from the checkpoint before that: well under a second on a phone
	// Two ranges further apart than this are not joined on the drawing: more than
	// the coarsest course has between its minutes.
	depthJoined = 13 * time.Minute
)

// depthMinutes is how many points one entry holds.
const depthMinutes = 120

// lastDepth gives the newest estimate that was kept of a case.
func (cs *Case) lastDepth() (*timeline.Entry, *timeline.Depth) {
	var last *timeline.Entry
	for e := range timeline.Each[*timeline.Depth](cs.Entries, cs.ID) {
		if last == nil || !e.Now().At.Before(last.Now().At.Time) {
			last = e
		}
	}
	if last == nil {
		return nil, nil
	}
	return last, last.Now().Payload.(*timeline.Depth)
}

// courseOf puts the course of a run, from after a minute on, into points that
// are kept.
func courseOf(r *depth.Run, afterMin float64) []timeline.DepthPoint {
	all := r.Course(afterMin)
	if len(all) == 0 {
		return nil
	}
	now := all[len(all)-1].AtMin
	every := math.Ceil((now - all[0].AtMin) / depthMinutes)
	mac := func(x float64) quantity.Amount { return agent.Give(x, 2, quantity.One) }
	var out []timeline.DepthPoint
	for i, s := range all {
		if last := i == len(all)-1; !last && every > 1 && math.Mod(s.AtMin, every) != 0 {
			continue
		}
		p := timeline.DepthPoint{Before: agent.Give(now-s.AtMin, 1, quantity.Minute)}
		for _, w := range s.Withdrawn {
			p.Withdrawn = append(p.Withdrawn, string(w))
		}
		if len(s.Withdrawn) == 0 {
			p.Low, p.Middle, p.High = mac(s.DepthMAC.Low), mac(s.DepthMAC.Value), mac(s.DepthMAC.High)
		}
		// As long as there is none for the same reason one point says it.
		if n := len(out); n > 0 && i < len(all)-1 && len(p.Withdrawn) > 0 && slices.Equal(out[n-1].Withdrawn, p.Withdrawn) {
			continue
		}
		out = append(out, p)
	}
	return out
}

// leadKept is a window as it is kept.
func leadKept(l *depth.Lead) timeline.DepthLead {
	k := timeline.DepthLead{What: string(l.Kind), Step: string(l.Step)}
	minutes := func(x float64) quantity.Amount { return agent.Give(x, 0, quantity.Minute) }
	switch {
	case l.Never:
		k.How = "never"
		return k
	case l.Already:
		k.How = "already"
		return k
	case l.Open:
		k.How = "open"
	}
	k.From, k.Until = minutes(l.FromMin), minutes(l.ToMin)
	return k
}

// ShowDepth is DepthOf for a screen: what it shows is kept in the record. Where
// that fails the sheet is there all the same, and says so.
func (c *Companion) ShowDepth(ctx context.Context, cs *Case, if_ DepthIf) (DepthView, error) {
	v, kept, err := c.depthOf(ctx, cs, if_, true)
	if err != nil || kept == nil {
		return v, err
	}
	kept.Asked = true
	if e, last := cs.lastDepth(); last != nil && c.clock.Now().Wall.Sub(e.Now().At.Time).Abs() < depthKeptAgain && sameDepth(last, kept) {
		return v, nil // the same again: a page that was reloaded
	}
	if _, err := c.Record(ctx, Tap{ID: NewID(), Scope: timeline.ScopeCase, About: cs.ID, Payload: kept}); err != nil {
		v.NotKept = Speaker{c.words}.Say("depth.not-kept")
	}
	return v, nil
}

// sameDepth reports whether two estimates show the same, whatever went before.
func sameDepth(a, b *timeline.Depth) bool {
	p, q := &a.Course[len(a.Course)-1], &b.Course[len(b.Course)-1]
	return a.Asked == b.Asked && a.Model == b.Model && a.Drift == b.Drift && a.Drops == b.Drops && a.Percent == b.Percent && a.Wetness == b.Wetness &&
		p.Low == q.Low && p.Middle == q.Middle && p.High == q.High && slices.Equal(p.Withdrawn, q.Withdrawn) && slices.Equal(a.Leads, b.Leads)
}

// bearsOnDepth reports whether an estimate may be another by such an entry.
func bearsOnDepth(p timeline.Payload) bool {
	switch p.(type) {
	case *timeline.Signs, *timeline.Vitals, *timeline.AgentDelivery, *timeline.Support, *timeline.Drug, *timeline.Infusion:
		return true
	}
	return false
}

// DepthSeen counts what was recorded in a case that bears on depth, corrections
// among it: a sheet of depth that was shown at another count is overtaken.
func (cs *Case) DepthSeen() (n int) {
	for _, e := range cs.Entries {
		if bearsOnDepth(e.Now().Payload) {
			n += len(e.Versions)
		}
	}
	return n
}

// followDepth takes the band along after a tap that bears on it, in a case whose
// sheet somebody opened. The tap is stored: what goes wrong here is mended by the
// next, and is no fault of the tap's.
func (c *Companion) followDepth(ctx context.Context, id string, t *Tap) {
	if !bearsOnDepth(t.Payload) {
		return
	}
	now := c.clock.Now().Wall
	if !t.At.IsZero() && now.Sub(t.At.Time) > depthFollows {
		return
	}
	cs, err := c.Case(ctx, id)
	if err != nil {
		return
	}
	e, last := cs.lastDepth()
	if _, over := cs.Over(); last == nil || over {
		return
	}
	_, kept, err := c.depthOf(ctx, cs, DepthIf{}, false)
	if err != nil || kept == nil {
		return
	}
	was, is := &last.Course[len(last.Course)-1], &kept.Course[len(kept.Course)-1]
	if now.Sub(e.Now().At.Time) < depthKeptAgain && (len(was.Withdrawn) > 0) == (len(is.Withdrawn) > 0) {
		return
	}
	_, _ = c.Record(ctx, Tap{ID: NewID(), Scope: timeline.ScopeCase, About: cs.ID, Payload: kept})
}

// depthKept puts what was kept into words for the list of entries.
func (s Speaker) depthKept(p *timeline.Depth) string {
	last := &p.Course[len(p.Course)-1]
	how := s.Say("depth.kept-along")
	if p.Asked {
		how = s.Say("depth.kept-asked")
	}
	return join(" · ", how, s.depthPoint(p.Agent, last), s.depthKeptLeads(p), s.Say("depth.version", "n", p.Model))
}

// depthPoint puts a point into words; codes of a model that is not this one
// stand as they are.
func (s Speaker) depthPoint(of term.Agent, p *timeline.DepthPoint) string {
	if len(p.Withdrawn) > 0 {
		var why []string
		for _, w := range p.Withdrawn {
			why = append(why, s.orCode("depth.reason."+w, w))
		}
		return s.Say("depth.kept-none", "why", join(" ", why...))
	}
	low, err := p.Low.Float64(quantity.One)
	high, err2 := p.High.Float64(quantity.One)
	if err != nil || err2 != nil {
		return ""
	}
	return s.Say("depth.kept-range", "low", s.Number(p.Low), "high", s.Number(p.High), "stage", s.stageSpan(depth.StageAt(of, low), depth.StageAt(of, high)))
}

func (s Speaker) depthKeptLeads(p *timeline.Depth) string {
	var all []string
	for i := range p.Leads {
		k := &p.Leads[i]
		what := s.orCode("depth.lead."+k.What, k.What)
		if k.Step != "" {
			what = join(" ", what, s.orCode("depth.step."+k.Step, k.Step))
		}
		from, until := s.Number(k.From), s.Number(k.Until)
		var when string
		switch k.How {
		case "never":
			when = s.Say("depth.never", "n", "90")
		case "already":
			when = s.Say("depth.already")
		case "open":
			when = s.Say("depth.from", "from", from, "n", until)
		default:
			when = s.Say("depth.window", "from", from, "to", until)
		}
		all = append(all, what+" "+when)
	}
	if len(all) == 0 {
		return ""
	}
	given := join(" ", s.Amount(p.Drops), s.Amount(p.Percent), Code(s, term.WetnessList, p.Wetness))
	if given == "" {
		given = s.Say("say.off")
	}
	return s.Say("depth.kept-leads", "given", given, "what", join("; ", all...))
}

// orCode says what stands under a key, or the code itself where nothing does: a
// record may hold the codes of another version.
func (s Speaker) orCode(key, code string) string {
	if s.Has(key) {
		return s.Say(key) //word:prefix depth.
	}
	return code
}

// What the drawn band reaches up to, in parts of MAC (drawing scale only).
const courseTopMAC = 2.5

// course makes the band of what was kept, with what each look leaves by its
// signs; nil where nothing was.
func (b *sheetMaker) course(ctx context.Context) error {
	s, cs := b.s, b.cs
	c := &record.Course{
		Label: s.Say("record.depth"), Top: courseTopMAC, Line: 1,
		Body: s.Say("record.depth-body"), Shown: s.Say("record.depth-shown"), Sign: s.Say("record.depth-sign"), Gap: s.Say("record.depth-gap"),
	}
	number := func(a quantity.Amount) float64 {
		x, err := a.Float64(quantity.One)
		if err != nil {
			return 0
		}
		return x
	}
	var first time.Time
	for e, p := range timeline.Each[*timeline.Depth](cs.Entries, cs.ID) {
		for i := range p.Course {
			at := &p.Course[i]
			before, err := at.Before.Float64(quantity.Minute)
			if err != nil {
				continue
			}
			when := e.Now().At.Add(-time.Duration(before * float64(time.Minute)))
			shown := i == len(p.Course)-1 && p.Asked
			if shown && len(at.Withdrawn) > 0 {
				shown = false
			}
			point := record.CoursePoint{
				At: when.Time, Low: number(at.Low), High: number(at.High), Shown: shown, ID: e.ID,
				Text: join(" · ", s.depthPoint(p.Agent, at), s.Say("depth.version", "n", p.Model)),
			}
			if len(at.Withdrawn) > 0 {
				point.Gap = s.Say("record.depth-gap")
				if w := at.Withdrawn[0]; s.Has("depth.gap." + w) {
					point.Gap = s.Say("depth.gap." + w) //word:prefix depth.gap.
				}
			}
			if first.IsZero() || when.Before(first) {
				first = when.Time
			}
			c.Points = append(c.Points, point)
		}
	}
	if len(c.Points) == 0 {
		return nil
	}
	slices.SortStableFunc(c.Points, func(x, y record.CoursePoint) int { return x.At.Compare(y.At) })
	for i := 1; i < len(c.Points); i++ {
		c.Points[i].Apart = c.Points[i].At.Sub(c.Points[i-1].At) > depthJoined
	}
	last := c.Points[len(c.Points)-1].At
	rules, err := b.c.Rules(ctx, b.c.clock.Now().Wall)
	if err != nil {
		return err
	}
	entries := cs.entriesByTime()
	spans := drugSpans(rules, entries, last)
	support := term.Support("")
	for _, e := range entries {
		at := e.Now().At.Time
		if p, ok := e.Now().Payload.(*timeline.Support); ok {
			support = p.Support
		}
		p, ok := e.Now().Payload.(*timeline.Signs)
		if !ok || at.Before(first) || at.After(last) {
			continue
		}
		agents, _ := agentsActing(entries, at)
		of := depth.Subject{Age: cs.Facts.Age, Weight: cs.Facts.Weight, Agents: agents}
		r, err := depth.Read(of, actingAt(spans, at), support, lookOf(p), depth.Vitals{}, depth.Vitals{})
		if err != nil {
			continue // the record's own checks keep such a look out
		}
		sign := record.CourseSign{At: at, ID: e.ID, Danger: len(r.Dangers) > 0}
		why := s.stageSpan(r.Low, r.High)
		if len(agents) > 0 && r.Low != "" {
			sign.Low, _, _ = depth.StageMAC(agents[0], r.Low)
			_, sign.High, _ = depth.StageMAC(agents[0], r.High)
		} else if !sign.Danger {
			continue // it says nothing of depth
		} else {
			sign.Low, sign.High = courseTopMAC, courseTopMAC
		}
		for _, d := range r.Dangers {
			why = join(" · ", why, s.depthReason(d))
		}
		sign.Text = join(": ", s.Signs(p), why)
		c.Signs = append(c.Signs, sign)
	}
	b.sheet.Course, c.Under = c, b.agentBands
	b.sheet.Notices = append(b.sheet.Notices, s.Say("record.depth-note"))
	return nil
}
