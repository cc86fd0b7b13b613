package depth

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
)

var update = flag.Bool("update", false, "write the files of testdata anew")

// The seeds of the patients that are told of. The filter was tried on 40 others,
// from seed 9000 on, while it was made. A first one, which took what was told of
// drops for true, was run on seeds 1 to 60 and 1000 to 1199: 83 and 79 % of all
// samples were within, but of patients whose drops were told wrongly 75 and 70 %.
// So the bodies differ in that too, and seeds that nobody had seen were taken.
const (
	firstSeed = 2001
	patients  = 60
)

// tally is what came of one patient.
type tally struct {
	shown, inside            int
	all, allInside           int
	deepCalledLight, isDeep  int
	deepMiddleLight          int // shown, the middle in a lighter plane
	allDeep, allDeepLight    int // shown or not
	lightCalledDeep, isLight int
	lightMayBeDeep           int // shown, the deep end at III-3 or deeper
	drifts, looks            int
	with, without            []float64 // errors, shown samples
	lead                     map[LeadKind]*leadTally
	groups                   []string
	of                       map[string][2]int // by group: shown, inside
}

type leadTally struct {
	given, inside, early, late int
	off                        []float64 // minutes from the middle of the window
}

// follow takes one patient through 90 minutes with a look every four.
func follow(seed uint64) (tally, error) {
	p := simulate(seed)
	got := tally{lead: map[LeadKind]*leadTally{LeadReady: {}, LeadTooDeep: {}, LeadWaking: {}}}
	for _, g := range []struct {
		name string
		is   bool
	}{
		{"an airway closed and nobody wrote it", p.closed > 0}, {"an opioid before", p.opioid}, {"atropine before", p.atropine},
		{"drops told wrongly", p.told > 0}, {"drops not told", p.told == 0},
		{"drops off by over a third", p.told > 0 && math.Abs(math.Log(p.dropsPerML/40)) > 0.3},
	} {
		if g.is {
			got.groups = append(got.groups, g.name)
		}
	}
	with, err := New(p.subject(), Options{Seed: seed})
	if err != nil {
		return got, err
	}
	without, err := New(p.subject(), Options{Seed: seed})
	if err != nil {
		return got, err
	}
	drugs := Event{What: WhatDrugs, Drugs: Drugs{Opioid: p.opioid, Anticholinergic: p.atropine}}
	events, blind := []Event{drugs}, []Event{drugs}
	for minute := 0.0; minute < 90; minute++ {
		was := p.drops
		if minute > 0 || p.drops == 0 {
			p.pours()
		}
		if p.drops != was {
			e := Event{AtMin: minute, What: WhatSupply, Supply: p.supply()}
			events, blind = append(events, e), append(blind, e)
		}
		if int(minute)%4 == 3 {
			events = append(events, Event{AtMin: minute, What: WhatLook, Look: p.looks()},
				Event{AtMin: minute, What: WhatVitals, Vitals: Vitals{PulsePerMin: 90, SystolicMmHg: 110, SpO2Percent: 97}})
			got.looks++
		}
		if int(minute)%2 == 1 && minute >= 7 {
			if err := with.Update(events, minute); err != nil {
				return got, err
			}
			if err := without.Update(blind, minute); err != nil {
				return got, err
			}
			got.sample(p, with, without)
			if int(minute)%16 == 7 {
				if err := got.leads(p, with); err != nil {
					return got, err
				}
			}
		}
		p.run(1)
	}
	return got, nil
}

func (y *tally) sample(p *simulated, with, without *Run) {
	truth := p.depthMAC()
	var a, b Estimate
	with.rangeNow(&a)
	without.rangeNow(&b)
	in := truth >= a.DepthMAC.Low && truth <= a.DepthMAC.High
	y.all++
	if in {
		y.allInside++
	}
	if a.Drift != "" {
		y.drifts++
	}
	l := with.ladder
	is := l.index(truth)
	if is >= 4 { // III-3 and deeper
		y.allDeep++
		if l.index(a.DepthMAC.High) < is {
			y.allDeepLight++
		}
	}
	if len(with.withdrawn()) > 0 {
		return
	}
	y.shown++
	if in {
		y.inside++
	}
	y.with = append(y.with, math.Abs(a.DepthMAC.Value-truth))
	y.without = append(y.without, math.Abs(b.DepthMAC.Value-truth))
	if is >= 4 {
		y.isDeep++
		if l.index(a.DepthMAC.High) < is {
			y.deepCalledLight++
		}
		if l.index(a.DepthMAC.Value) < is {
			y.deepMiddleLight++
		}
	} else if is <= 1 { // I and II
		y.isLight++
		if l.index(a.DepthMAC.Low) > is {
			y.lightCalledDeep++
		}
		if l.index(a.DepthMAC.High) >= 4 {
			y.lightMayBeDeep++
		}
	}
}

// leads compares the windows with what the patient would do.
func (y *tally) leads(p *simulated, r *Run) error {
	type want struct {
		lead  Lead
		given bool
		drops float64
		there func(*simulated) bool
	}
	var wants []want
	supply := func(drops float64) Supply {
		q := *p
		q.drops = drops
		return q.supply()
	}
	deeper := math.Min(420, math.Max(200, p.drops*1.5))
	ready, ok, err := r.Ready(StepClosing, supply(deeper))
	if err != nil {
		return err
	}
	closing := r.ladder.bounds[3]
	wants = append(wants, want{ready, ok, deeper, func(q *simulated) bool { return q.depthMAC() >= closing }})
	deep, ok, err := r.TooDeep(supply(p.drops))
	if err != nil {
		return err
	}
	bound := r.ladder.bounds[4]
	wants = append(wants, want{deep, ok, p.drops, func(q *simulated) bool { return q.depthMAC() >= bound }})
	wake, ok := r.Waking()
	wants = append(wants, want{wake, ok, 0, func(q *simulated) bool { return q.depthMAC() <= q.awakeAt }})
	for _, w := range wants {
		if !w.given || w.lead.Already {
			continue
		}
		to := y.lead[w.lead.Kind]
		// The same patient, who does not know that it is a trial: no airway
		// closes in it, which is a condition of the window.
		q := *p
		q.rng = simulate(0).rng
		q.closedFrom, q.closed = 0, 0
		q.drops = w.drops
		took := math.Inf(1)
		for m := 0.0; m <= LongestLeadMin; m += 0.5 {
			if w.there(&q) {
				took = m
				break
			}
			q.run(0.5)
		}
		to.given++
		switch {
		case w.lead.Never:
			if math.IsInf(took, 1) {
				to.inside++
			} else {
				to.early++
			}
		case took < w.lead.FromMin:
			to.early++
		case took > w.lead.ToMin && !w.lead.Open:
			to.late++
		default:
			to.inside++
		}
		if !w.lead.Never && !w.lead.Open && !math.IsInf(took, 1) {
			to.off = append(to.off, math.Abs(took-(w.lead.FromMin+w.lead.ToMin)/2))
		}
	}
	return nil
}

// together runs so many patients from a seed on.
func together(from uint64, n int) (tally, error) {
	all := make([]tally, n)
	errs := make([]error, n)
	var group sync.WaitGroup
	room := make(chan struct{}, 2)
	for i := range n {
		group.Go(func() {
			room <- struct{}{}
			all[i], errs[i] = follow(from + uint64(i))
			<-room
		})
	}
	group.Wait()
	sum := tally{lead: map[LeadKind]*leadTally{LeadReady: {}, LeadTooDeep: {}, LeadWaking: {}}, of: map[string][2]int{}}
	for i, t := range all {
		if errs[i] != nil {
			return sum, errs[i]
		}
		sum.shown += t.shown
		sum.inside += t.inside
		sum.all += t.all
		sum.allInside += t.allInside
		sum.isDeep += t.isDeep
		sum.deepCalledLight += t.deepCalledLight
		sum.deepMiddleLight += t.deepMiddleLight
		sum.allDeep += t.allDeep
		sum.allDeepLight += t.allDeepLight
		for _, g := range t.groups {
			had := sum.of[g]
			sum.of[g] = [2]int{had[0] + t.shown, had[1] + t.inside}
		}
		sum.isLight += t.isLight
		sum.lightCalledDeep += t.lightCalledDeep
		sum.lightMayBeDeep += t.lightMayBeDeep
		sum.drifts += t.drifts
		sum.looks += t.looks
		sum.with = append(sum.with, t.with...)
		sum.without = append(sum.without, t.without...)
		for k, l := range t.lead {
			to := sum.lead[k]
			to.given += l.given
			to.inside += l.inside
			to.early += l.early
			to.late += l.late
			to.off = append(to.off, l.off...)
		}
	}
	return sum, nil
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	x = slices.Clone(x)
	slices.Sort(x)
	return x[len(x)/2]
}

func percent(n, of int) float64 { return 100 * float64(n) / math.Max(1, float64(of)) }

func (y *tally) report(from uint64, n int) string {
	var s strings.Builder
	better := 100 * (1 - median(y.with)/median(y.without))
	verdict := func(ok bool) string {
		if ok {
			return "held"
		}
		return "MISSED"
	}
	coverage := percent(y.inside, y.shown)
	fmt.Fprintf(&s, "%s beside simulated patients that are built otherwise. No patient was measured.\n\n", Version)
	fmt.Fprintf(&s, "seeds %d to %d, 90 minutes each, a look of 3 to 6 signs every 4 minutes, %d looks\n", from, from+uint64(n)-1, y.looks)
	fmt.Fprintf(&s, "samples every 2 minutes from the 7th on: %d, shown %d, withdrawn %d\n\n", y.all, y.shown, y.all-y.shown)
	fmt.Fprintf(&s, "truth within the 80 %% range, shown          %5.1f %%   wanted 75 to 90: %s\n", coverage, verdict(coverage >= 75 && coverage <= 90))
	fmt.Fprintf(&s, "truth within it, had all been shown         %5.1f %%\n", percent(y.allInside, y.all))
	fmt.Fprintf(&s, "median error with signs                     %6.3f of MAC\n", median(y.with))
	fmt.Fprintf(&s, "median error of the model without signs     %6.3f of MAC\n", median(y.without))
	fmt.Fprintf(&s, "smaller by                                  %5.1f %%   wanted at least 60: %s\n", better, verdict(better >= 60))
	fmt.Fprintf(&s, "deep called light                           %d of %d samples at III-3 or deeper (%.1f %%): the whole range in a lighter plane, its deep end too, which a sheet shows first\n", y.deepCalledLight, y.isDeep, percent(y.deepCalledLight, y.isDeep))
	fmt.Fprintf(&s, "  its middle in a lighter plane             %d of %d (%.1f %%)\n", y.deepMiddleLight, y.isDeep, percent(y.deepMiddleLight, y.isDeep))
	fmt.Fprintf(&s, "  had all been shown                        %d of %d (%.1f %%)\n", y.allDeepLight, y.allDeep, percent(y.allDeepLight, y.allDeep))
	fmt.Fprintf(&s, "light called deep                           %d of %d samples in I and II (%.1f %%)\n", y.lightCalledDeep, y.isLight, percent(y.lightCalledDeep, y.isLight))
	fmt.Fprintf(&s, "  the deep end at III-3 or deeper           %d of %d (%.1f %%)\n", y.lightMayBeDeep, y.isLight, percent(y.lightMayBeDeep, y.isLight))
	fmt.Fprintf(&s, "samples with a warning that they part       %.1f %%\n\n", percent(y.drifts, y.all))
	for _, g := range slices.Sorted(maps.Keys(y.of)) {
		fmt.Fprintf(&s, "within the range, %-38s %5.1f %% of %d\n", g, percent(y.of[g][1], y.of[g][0]), y.of[g][0])
	}
	s.WriteString("\n")
	for _, k := range LeadKindCodes {
		l := y.lead[k]
		fmt.Fprintf(&s, "lead time, %-9s %4d windows: truth within %5.1f %%, sooner %5.1f %%, later %5.1f %%; median error of the middle %.1f min (%d that end)\n",
			k, l.given, percent(l.inside, l.given), percent(l.early, l.given), percent(l.late, l.given), median(l.off), len(l.off))
	}
	return s.String()
}

// golden compares a report with its file, or writes it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s says something else; look at both, then run with -update:\n%s", name, got)
	}
}

func TestValidation(t *testing.T) {
	y, err := together(firstSeed, patients)
	if err != nil {
		t.Fatal(err)
	}
	report := y.report(firstSeed, patients)
	t.Log("\n" + report)
	golden(t, "testdata/validation.txt", report)
}
