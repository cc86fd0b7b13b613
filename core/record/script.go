package record

import (
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/bidi"
	"golang.org/x/text/unicode/norm"
)

// clean makes s safe to draw on one line: breaks become spaces; what XML
// cannot carry, what is not Unicode, and marks that would turn the direction
// of the words after them become a visible U+FFFD.
func clean(s string) string {
	if printable(s) {
		return s
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n', r == '\r', r == '\t', r == '\u2028', r == '\u2029', r == '\u0085':
			return ' '
		case unicode.IsControl(r), r&0xfffe == 0xfffe,
			r >= '\u202a' && r <= '\u202e', r >= '\u2066' && r <= '\u2069':
			return utf8.RuneError
		}
		return r
	}, s)
}

// printable reports whether s is of printable ASCII alone, which nothing has to
// be done to.
func printable(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] >= 0x7f {
			return false
		}
	}
	return true
}

// missing is printed for a character that the paper's font lacks.
const missing = '□'

// legible readies s for paper. Accents are joined to their letters, Arabic
// letters take the shape of their place in the word, and a character that the
// font lacks becomes a box and is handed to lacks, so that the page can say
// so: a name must not lose letters without a word.
func legible(s string, lacks func(rune)) string {
	s = clean(s)
	f, b := regular(), heavy()
	if printable(s) {
		return s
	}
	return strings.Map(func(r rune) rune {
		switch {
		// Selectors and joiners are not letters; without them the letters
		// beside them are all still there.
		case unicode.Is(unicode.Variation_Selector, r), unicode.Is(unicode.Join_Control, r):
			return -1
		case f.has(r) && b.has(r):
			return r
		}
		lacks(r)
		return missing
	}, shape(norm.NFC.String(s)))
}

// arabic holds for each letter its forms that stand alone, end, begin and
// join on both sides; one, two or four of them. Pairs hold lam with alef.
type arabic struct {
	forms map[rune][]rune
	pairs map[[2]rune][]rune
}

// joining reads the forms from the compatibility blocks of Unicode, which
// list them in that order, by way of their compatibility mappings.
var joining = sync.OnceValue(func() arabic {
	a := arabic{make(map[rune][]rune), make(map[[2]rune][]rune)}
	block := func(from, to rune) {
		found := make(map[rune][]rune)
		for r := from; r <= to; r++ {
			base := []rune(norm.NFKC.String(string(r)))
			switch {
			case len(base) == 1 && base[0] != r:
				found[base[0]] = append(found[base[0]], r)
			case len(base) == 2 && base[0] == '\u0644' && from >= '\ufe70':
				pair := [2]rune(base)
				a.pairs[pair] = append(a.pairs[pair], r)
			}
		}
		for base, forms := range found {
			if _, known := a.forms[base]; !known && unicode.IsLetter(base) && len(forms) != 3 {
				a.forms[base] = forms
			}
		}
	}
	block('\ufe80', '\ufefc')
	block('\ufb50', '\ufbb1')
	return a
})

// shape puts Arabic letters into the form of their place: the page has no
// shaping engine. Other scripts pass unchanged; those that need an engine
// (Devanagari, Khmer) are not in the font and become boxes anyway.
func shape(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return unicode.Is(unicode.Arabic, r) }) {
		return s
	}
	a := joining()
	in := []rune(s)
	const tatweel = '\u0640'
	// near finds the letter beside i, stepping over marks that sit on letters.
	near := func(i, step int) rune {
		for i += step; i >= 0 && i < len(in); i += step {
			if !unicode.Is(unicode.Mn, in[i]) {
				return in[i]
			}
		}
		return 0
	}
	var out []rune
	for i := 0; i < len(in); i++ {
		before := near(i, -1)
		joined := before == tatweel || len(a.forms[before]) == 4
		if i+1 < len(in) {
			if pair := a.pairs[[2]rune{in[i], in[i+1]}]; len(pair) == 2 {
				if joined {
					out = append(out, pair[1])
				} else {
					out = append(out, pair[0])
				}
				i++
				continue
			}
		}
		forms := a.forms[in[i]]
		if len(forms) == 0 {
			out = append(out, in[i])
			continue
		}
		after := near(i, 1)
		joins := len(forms) == 4 && (after == tatweel || len(a.forms[after]) >= 2)
		form := forms[0]
		switch {
		case joined && joins:
			form = forms[3]
		case joins:
			form = forms[2]
		case joined && len(forms) >= 2:
			form = forms[1]
		}
		if !regular().has(form) || !heavy().has(form) {
			form = in[i]
		}
		out = append(out, form)
	}
	return string(out)
}

// visual orders one line for a page that places letters left to right only:
// each stretch that runs right to left is turned round, its numbers kept in
// reading order. The line itself runs left to right. This is the common case
// of the Unicode bidirectional algorithm (UAX 9), not all of it.
func visual(s string) string {
	rtl := func(r rune) bool {
		if r < 0x590 {
			return false
		}
		p, _ := bidi.LookupRune(r)
		return p.Class() == bidi.R || p.Class() == bidi.AL
	}
	if !strings.ContainsFunc(s, rtl) {
		return s
	}
	in := []rune(s)
	for i := 0; i < len(in); i++ {
		if !rtl(in[i]) {
			continue
		}
		// A stretch goes on to the last right-to-left letter that no
		// left-to-right letter comes before.
		last := i
		for j := i; j < len(in); j++ {
			p, _ := bidi.LookupRune(in[j])
			if p.Class() == bidi.L {
				break
			}
			if rtl(in[j]) || p.Class() == bidi.NSM && last == j-1 {
				last = j
			}
		}
		turn(in[i : last+1])
		i = last
	}
	return string(in)
}

// turn reverses a stretch, mirrors its brackets, and sets the digits of each
// number straight again.
func turn(rs []rune) {
	slices.Reverse(rs)
	digit := func(r rune) bool { return unicode.IsDigit(r) }
	for i := 0; i < len(rs); i++ {
		rs[i] = []rune(bidi.ReverseString(string(rs[i])))[0]
		if !digit(rs[i]) {
			continue
		}
		j := i
		for j < len(rs) && (digit(rs[j]) || strings.ContainsRune(".,:/", rs[j])) {
			j++
		}
		for !digit(rs[j-1]) {
			j--
		}
		slices.Reverse(rs[i:j])
		i = j - 1
	}
}
