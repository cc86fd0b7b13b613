// Package record draws the anaesthetic record: as SVG on the screen and as
// PDF on paper, from the same plain values.
//
// It is given a [Sheet] and knows no case, no event, no store and no clock;
// package core fills the Sheet from a case. Nothing is worked out here but
// where ink goes, so what is on paper is what was handed over, and a
// correction that the Sheet carries is drawn as a correction: the old value
// struck and legible, the new one beside it.
//
// The marks are the trade's own: blood pressure as paired chevrons that point
// at each other's value (down for systolic, up for diastolic), pulse as a dot,
// and numbers for what is read as a number (saturation, breathing rate, end
// tidal carbon dioxide, temperature). Time runs across; agents and gases lie
// as bands; drugs, signs, steps and phases stand at their times.
package record

import "time"

// Sheet is everything that is drawn. Times carry their zone and are printed
// in it. Words are already in the reader's language; this package adds none.
type Sheet struct {
	Title    string    // "Anaesthetic record"
	For      string    // for whom, one line: name or case number, age, weight
	Case     string    // short case number, on every page
	Facts    []Fact    // what was known before: label and value, in reading order
	Begin    time.Time // left edge; zero: taken from the first mark drawn
	End      time.Time // right edge; zero: taken from the last mark drawn
	Numbers  []Row     // rows of numbers under the chart, in order
	Pressure []Pair    // chevrons, mmHg
	Pulse    []Point   // dots, per minute
	Bands    []Band    // agents, oxygen, cover, infusions, breathing support
	Course   *Course   // an estimate over time; nil: none was shown
	Marks    []Mark    // drugs, signs, airway, steps, phases, troubles: at their times
	Entries  []Entry   // every entry in order, for the list that follows the chart
	Notices  []string  // cautions and conflicts to print above the list
	Words    Words     // the few labels that drawing needs
	Foot     string    // who printed it and when; on every page
}

// Extent answers the first and last time that is drawn; zero times when nothing
// drawn has one. Entries that stand in the list only do not count.
func (s *Sheet) Extent() (from, to time.Time) {
	drawn := *s
	drawn.Begin, drawn.End, drawn.Entries = time.Time{}, time.Time{}, nil
	moments(&drawn, func(t time.Time) bool {
		if from.IsZero() || t.Before(from) {
			from = t
		}
		if to.IsZero() || t.After(to) {
			to = t
		}
		return true
	})
	return from, to
}

// Words are the labels of the drawing, in the reader's language.
type Words struct {
	Systolic, Diastolic, Pulse string // legend
	Pressure                   string // axis: "mmHg, beats/min"
	Time, Entry, By, Late      string // column heads of the list, and the mark of a late entry
	Entered                    string // column head: when it was entered
	Was                        string // before a superseded value: "was"
	Struck                     string // beside an entry struck out
	Conflict                   string // beside an entry with two standing corrections
	Page                       string // "page {n} of {m}"
	Empty                      string // said when a Sheet has nothing to draw
	Lacking                    string // "characters that this printer's font lacks"; their code points follow
	Open                       string // legend of an open mark
	Summary                    string // accessible summary of the drawing: what a person who cannot see it is told
}

// Fact is one labelled value of the head of the sheet.
type Fact struct{ Label, Value string }

// Standing says how an entry or a drawn mark stands.
type Standing uint8

// The ways an entry can stand.
const (
	Stands   Standing = iota // never corrected
	Amended                  // corrected; Was holds the older values
	Struck                   // struck out: drawn crossed, never hidden
	Moved                    // belongs to another case now: drawn crossed
	Disputed                 // two corrections stand against each other
)

// Point is one value at one time. Value is in the unit of the row it is in.
type Point struct {
	At       time.Time
	Value    float64  // for placing only; Text is what is printed
	Text     string   // as entered
	Was      []string // superseded values, oldest first
	Standing Standing
	ID       string // of the entry, for a link; may be empty
}

// Pair is one blood pressure, mmHg. Either half may be absent (zero Text).
type Pair struct {
	At                  time.Time
	Systolic, Diastolic Point
	Standing            Standing
	ID                  string
}

// Row is a row of numbers under the chart.
type Row struct {
	Label  string // "SpO2 %"
	Points []Point
}

// Band is a state that lasts: an agent at a delivery, oxygen at a flow, a
// cover, a kind of breathing.
type Band struct {
	Label string // "ether"
	Spans []Span
}

// Span is one stretch of a band. Level is 0 to 1, the height of the stretch
// in its band. An open span (zero To) runs to the right edge.
type Span struct {
	From, To time.Time
	Level    float64
	Text     string // "60 drops/min"
	Standing Standing
	ID       string
}

// MarkKind says in which lane a mark is drawn.
type MarkKind uint8

// The lanes of marks, top to bottom.
const (
	PhaseMark   MarkKind = iota // a line through the whole chart
	StepMark                    // surgical steps, position, block, birth
	DrugMark                    // drugs and fluids
	SignMark                    // signs seen, airway
	TroubleMark                 // trouble, and instants marked but not yet named
)

// Mark is one thing that happened at one time.
type Mark struct {
	At       time.Time
	Kind     MarkKind
	Text     string
	Was      []string
	Standing Standing
	Late     bool
	Open     string // why no confirmed rule stands behind a dose, in words: it is drawn as an open mark; empty: one does, or it is no dose
	ID       string
}

// Entry is one line of the full list: what was entered, when it happened,
// when and by whom it was entered, and every older version of it.
type Entry struct {
	At       time.Time
	Text     string
	By       string
	Standing Standing
	Late     bool
	Entered  time.Time
	History  []Change // oldest first; empty when never corrected
	ID       string
}

// Change is an older version of an entry, or a step in its history.
type Change struct {
	At      time.Time // when the old version said that it happened
	Text    string
	By      string
	Entered time.Time
	Reason  string
}
