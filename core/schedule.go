package core

import (
	"strings"

	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// ScheduleLine is what is inspired from a time on, until the next line.
type ScheduleLine struct{ At, Inspired quantity.Amount } // a time, a percentage

// scheduleMost bounds a schedule: two days of minutes.
const scheduleMost = 3000

// ReadSchedule reads what is inspired over time: a line for each change, the time
// and the per cent with a comma or a semicolon between ("0 min, 10 %"), each later
// than the last and the first at 0. Empty lines and those that begin with # are
// left out. The code says what is wrong, and line with which line, from 1.
func ReadSchedule(text string) (all []ScheduleLine, line int, code string) {
	n := 0
	for row := range strings.Lines(text) {
		n++
		row = strings.TrimSpace(row)
		if row == "" || strings.HasPrefix(row, "#") {
			continue
		}
		if len(all) == scheduleMost {
			return nil, n, patient.TooHigh
		}
		cut := strings.IndexAny(row, ",;")
		if cut < 0 {
			return nil, n, inputNoComma
		}
		var l ScheduleLine
		if l.At, code = readAmount(strings.TrimSpace(row[:cut])); code != "" {
			return nil, n, code
		}
		if l.Inspired, code = readAmount(strings.TrimSpace(row[cut+1:])); code != "" {
			return nil, n, code
		}
		minutes, err := l.At.Float64(quantity.Minute)
		percent, err2 := l.Inspired.Float64(quantity.Percent)
		switch {
		case err != nil || err2 != nil:
			return nil, n, patient.WrongUnit
		case minutes < 0 || percent < 0:
			return nil, n, patient.TooLow
		case minutes > 48*60 || percent > 80:
			return nil, n, patient.TooHigh
		case len(all) == 0 && minutes != 0:
			return nil, n, inputFirstLine
		}
		if len(all) > 0 {
			if c, err := l.At.Cmp(all[len(all)-1].At); err != nil || c <= 0 {
				return nil, n, inputNotLater
			}
		}
		all = append(all, l)
	}
	if len(all) == 0 {
		return nil, n, quantity.EntryEmpty
	}
	return all, 0, ""
}
