package figure

import (
	"errors"
	"math"

	"chinlift/core/term"
)

// Interval holds a proportion with 95 in 100: both ends from 0 to 1.
type Interval struct{ Low, High float64 }

// z is the 97.5th centile of the standard normal distribution.
const z = 1.959963984540054

// ErrNotOf says that n of so many cannot be: fewer than none, more than all, or
// of none.
var ErrNotOf = errors.New("figure: n must be from 0 to m, and m at least 1")

// Published is where the interval comes from.
var Published = term.Source{Author: "E. B. Wilson", Title: "Probable inference, the law of succession, and statistical inference, Journal of the American Statistical Association 22:209", Year: 1927,
	Table: "score interval, as the reference pages of the R package cicalc (2025) print it; method 3 in R. G. Newcombe, Statistics in Medicine 17:857, 1998", Mark: term.MarkRead}

// Wilson gives the 95 per cent interval of the proportion of which n of so many
// is a sample: the score interval, whose ends are the proportions from which n
// is just z standard errors away. It is never outside 0 and 1, and does not
// shrink to nothing where n is none or all.
//
// Source: E. B. Wilson, Probable inference, the law of succession, and
// statistical inference, Journal of the American Statistical Association
// 22:209, 1927; method 3, without correction of continuity, in R. G. Newcombe,
// Two-sided confidence intervals for the single proportion: comparison of seven
// methods, Statistics in Medicine 17:857, 1998. Neither paper was read: the
// formula was, in the reference pages of the R package cicalc (pages
// ci_prop_wilson and ci_prop_diff_nc), which cite them.
func Wilson(n, of int) (Interval, error) {
	if n < 0 || of < 1 || n > of {
		return Interval{}, ErrNotOf
	}
	k, m := float64(n), float64(of)
	p := k / m
	middle := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	i := Interval{math.Max(0, middle-half), math.Min(1, middle+half)}
	// What rounding leaves at the ends is nought, and all.
	if n == 0 {
		i.Low = 0
	}
	if n == of {
		i.High = 1
	}
	return i, nil
}
