package plain

import (
	"bytes"
	"context"
	"iter"
	"strings"

	"chinlift/core"
)

const logbookTable = "logbook"

var logbookHeader = []string{"case", "date", "begun", "age", "age_unit", "sex", "asa", "emergency", "urgency", "operation", "techniques", "airways", "supervision", "by", "role",
	"troubles", "outcome", "follow_up", "follow_up_told", "name", "number", "operation_text"}

// logbookRows gives one row for each case, as it stands now.
func logbookRows(cases iter.Seq2[CaseStory, error], private bool) iter.Seq2[[]string, error] {
	return func(yield func([]string, error) bool) {
		for c, err := range cases {
			if err != nil {
				yield(nil, err)
				return
			}
			cs := core.CaseOf(c.ID, c.Story, c.Persons)
			r, err := core.LogbookOf(cs)
			if err != nil {
				yield(nil, err)
				return
			}
			var asked []string
			for _, q := range r.Replies {
				asked = append(asked, q.Question)
			}
			row := append([]string{c.ID, r.Day, yes(r.Begun)}, pair(r.Age)...)
			row = append(row, string(r.Sex), string(r.ASA), yes(r.Emergency), string(r.Urgency), string(r.Operation), codes(r.Techniques), codes(r.Airways), string(r.Supervision),
				r.By, codes(r.Role), codes(r.Troubles), string(r.Outcome), codes(asked), codes(r.Told))
			if !yield(append(row, privateCells(c, cs, private)...), nil) {
				return
			}
		}
	}
}

// codes writes several codes in one cell.
func codes[C ~string](all []C) string {
	var b strings.Builder
	for i, c := range all {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(string(c))
	}
	return b.String()
}

// Logbook makes the logbook of some cases, in their order.
func (m Maker) Logbook(ctx context.Context, cases []string, private bool) (data []byte, mediaType string, err error) {
	stories := func(yield func(CaseStory, error) bool) {
		for _, id := range cases {
			story, persons, err := m.Source.Story(ctx, id)
			if !yield(CaseStory{ID: id, Story: story, Persons: persons}, err) || err != nil {
				return
			}
		}
	}
	var b bytes.Buffer
	for _, t := range Tables() {
		if t.Name == logbookTable {
			err = WriteCSV(&b, t, stories, private)
		}
	}
	return b.Bytes(), "text/csv; charset=utf-8", err
}
