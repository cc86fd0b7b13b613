package record

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"pgregory.net/rapid"

	"chinlift/core/term"
)

var bookEnglish = BookWords{Page: "page {n} of {m}", Continued: "… continued", Lacking: "characters that this printer's font lacks",
	Name: "name", Date: "date (year-month-day)", Signature: "signature"}

// rules is a book of dose rules. Its numbers are made up to look like rules:
// none is to be used.
func rules() *Book {
	const source = "made up for a test, 2031, table 7 · from memory"
	unsigned := &BookSign{}
	return &Book{
		Title: "Dose rules", Subtitle: "14 rules, 13 of them confirmed by nobody. Every number is an estimate until a licensed person of this clinic has checked it against the protocol that holds here.",
		Foot: "Rules of 2031-03-01, 3f9a 07c2 · printed 2031-03-04 12:30 by M. Sample", Words: bookEnglish,
		Sections: []BookSection{
			{Heading: "How this book is used", Items: []BookItem{
				{Text: "Read each rule beside its source. Tick the box and sign where the rule holds here; strike out what does not and write what does beside it."},
				{Text: "A rule that nobody has signed says so on the screen."},
			}},
			{Heading: "Induction"},
			{Heading: "ketamine", Aside: "induction · N01AX03", Band: "induction", Keep: true, Items: []BookItem{
				{Text: "50 mg/mL, vial of 10 mL", Small: source},
				{Text: "Induction, into a vein", Strong: true},
				{Text: "12 years and over: 1 to 2 mg/kg of the dosing weight, usually 1.5 mg/kg; ≤ 150 mg at once", Level: 1, Small: source},
				{Text: "under 12 years: 2 mg/kg; ≤ 4.5 mg/kg in ½ h", Level: 1, Small: source},
				{Text: "by 10 × 10 mg steps, each over 1 min", Level: 2},
				{Sign: unsigned},
				{Text: "Induction, into a muscle", Strong: true},
				{Text: "4 to 8 mg/kg, onset 3 to 5 min", Level: 1, Small: source},
				{Sign: &BookSign{"agrees with the protocol of this clinic"}},
			}},
			{Heading: "naloxone", Aside: "opioid antagonist · V03AB15", Band: "opioid-antagonist", Items: []BookItem{
				{Text: "Reversal, into a vein", Strong: true},
				{Text: "100 µg every 2 min until breathing is ≥ 10/min", Level: 1, Small: source},
				{Text: "Kept at 15 to 25 °C, as written on its box by a pharmacist: é, ñ, ß, č", Level: 1},
				{Sign: unsigned},
			}},
			{Heading: "a drug whose name and strength as they stand on its box are longer than a line of this book has room for", Aside: "local anaesthetic · with adrenaline 1:200 000", Band: "local-anaesthetic", Items: []BookItem{
				{Text: strings.Repeat("Where the text of a rule is long it goes on over several lines, and from page to page, and no number is torn from its unit: at most 3 mg/kg, at most 7 mg/kg with adrenaline. ", 3), Small: strings.Repeat(source+"; ", 4)},
				{Sign: &BookSign{"I have compared this rule with the source that it names, and with the label of the product that the clinic buys; I answer for it until " +
					"the day on which the product or the source changes"}},
			}},
		},
	}
}

// faults is a list of faults to repair, several pages of it.
func faults() *Book {
	b := &Book{Title: "Faults to repair", Subtitle: "Open on 2031-03-04", Foot: "Printed 2031-03-04 12:30 by M. Sample", Words: bookEnglish}
	for n := range 9 {
		s := BookSection{Heading: fmt.Sprintf("Oxygen concentrator %d", n+1), Aside: "theatre", Keep: true}
		for k := range 7 {
			s.Items = append(s.Items, BookItem{Text: fmt.Sprintf("2031-02-%02d: flow falls to %d L/min after %d min; the filter was cleaned, and it came back", 10+k, 1+k%3, 5+n), Small: "noted by M. Sample",
				Sign: &BookSign{"repaired, and tried for 30 min"}})
		}
		b.Sections = append(b.Sections, s)
	}
	return b
}

func book(t testing.TB, b *Book, size PaperSize) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := WriteBook(&out, b, Paper{Made: at(150), Size: size}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func laid(t rapid.TB, b *Book, size PaperSize) *bookLayout {
	t.Helper()
	l, err := layBook(b, size, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestBookGolden(t *testing.T) {
	golden(t, "book-rules-a4.txt", []byte(pdfText(t, book(t, rules(), A4))))
	golden(t, "book-faults-letter.txt", []byte(pdfText(t, book(t, faults(), Letter))))
}

func TestBookIsValid(t *testing.T) {
	api.DisableConfigDir()
	strange := rules()
	strange.Title, strange.Foot = `a<b>&"'(\)`, "محمد ሰላም 😀 \x00\u202e"
	strange.Sections[2].Heading, strange.Sections[2].Aside = "\\(", ")"
	strange.Sections[2].Items[0].Text = strings.Repeat("very-long", 2000)
	for name, b := range map[string]*Book{"rules": rules(), "faults": faults(), "strange": strange} {
		for _, size := range []PaperSize{A4, Letter} {
			doc := book(t, b, size)
			if err := api.Validate(bytes.NewReader(doc), model.NewDefaultConfiguration()); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			checkDims(t, doc, size, len(laid(t, b, size).pages))
			if !bytes.Equal(doc, book(t, b, size)) {
				t.Errorf("%s differs from one printing to the next", name)
			}
		}
	}
}

// The outline leads to each section.
func TestBookOutline(t *testing.T) {
	api.DisableConfigDir()
	b := faults()
	marks, err := api.Bookmarks(bytes.NewReader(book(t, b, A4)), model.NewDefaultConfiguration())
	if err != nil {
		t.Fatal(err)
	}
	if len(marks) != len(b.Sections) {
		t.Fatalf("%d lines in the outline, want %d", len(marks), len(b.Sections))
	}
	on := map[string]int{}
	for n, page := range laid(t, b, A4).pages {
		for _, r := range page {
			if !r.repeat && r.first {
				on[b.Sections[r.section].Heading] = n + 1
			}
		}
	}
	for i, m := range marks {
		if want := b.Sections[i].Heading; m.Title != want || m.PageFrom != on[want] {
			t.Errorf("%q leads to page %d, want %q on %d", m.Title, m.PageFrom, want, on[want])
		}
	}
}

func TestBookErrors(t *testing.T) {
	paper := Paper{Made: at(0)}
	for name, c := range map[string]struct {
		b    *Book
		o    Paper
		want error
		says string
	}{
		"without a date":                {rules(), Paper{}, ErrNoDate, "date"},
		"nothing at all":                {&Book{}, paper, ErrBookEmpty, "nothing"},
		"a title alone":                 {&Book{Title: "Dose rules", Subtitle: "all of them", Words: bookEnglish}, paper, ErrBookEmpty, ""},
		"sections with nothing in them": {&Book{Title: "x", Sections: []BookSection{{}, {Heading: " \n", Items: []BookItem{{}, {Text: "\t", Small: " "}}}}}, paper, ErrBookEmpty, ""},
		"a level too deep":              {&Book{Sections: []BookSection{{}, {Items: []BookItem{{}, {Text: "x", Level: 3}}}}}, paper, ErrBookValue, "Sections[1].Items[1].Level is 3"},
		"a level under the first":       {&Book{Sections: []BookSection{{Items: []BookItem{{Text: "x", Level: -1}}}}}, paper, ErrBookValue, "Sections[0].Items[0].Level is -1"},
		"a class that is none":          {&Book{Sections: []BookSection{{Heading: "x", Band: "opiate"}}}, paper, ErrBookValue, `Sections[0].Band is "opiate"`},
	} {
		var out bytes.Buffer
		if err := WriteBook(&out, c.b, c.o); !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
		if out.Len() > 0 {
			t.Errorf("%s: and yet %d bytes were written", name, out.Len())
		}
	}
	// The least that is a book.
	for name, s := range map[string]BookSection{"a heading": {Heading: "x"}, "an aside": {Aside: "x"}, "a class": {Band: "opioid"},
		"a word": {Items: []BookItem{{Small: "x"}}}, "lines to sign on": {Items: []BookItem{{Sign: &BookSign{}}}}} {
		if err := WriteBook(io.Discard, &Book{Sections: []BookSection{s}}, paper); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, room := range []full{0, 900, 5000} {
		f := room
		if err := WriteBook(&f, rules(), paper); !errors.Is(err, errFull) {
			t.Errorf("with room for %d bytes: %v", room, err)
		}
	}
}

// Every class of the standard has its colour, and what works against a class
// is striped with it.
func TestBookClasses(t *testing.T) {
	if got, want := len(classLabels), len(term.DrugClassList.Codes()); got != want {
		t.Errorf("%d classes have a colour, of %d", got, want)
	}
	for _, class := range term.DrugClassList.Codes() {
		if _, known := classLabels[class]; !known {
			t.Errorf("%s has no colour", class)
		}
	}
	for against, class := range map[term.DrugClass]term.DrugClass{
		term.DrugClassRelaxantReversal: term.DrugClassRelaxant,
		term.DrugClassOpioidAntagonist: term.DrugClassOpioid,
		term.DrugClassHypotensive:      term.DrugClassVasopressor,
	} {
		a, c := classLabels[against], classLabels[class]
		if a.colour != c.colour || !a.striped || c.striped {
			t.Errorf("%s is %+v, %s is %+v", against, a, class, c)
		}
	}
}

// A number at the end of a line, its unit at the head of the next: what is
// read may be neither.
func TestBookBindsNumbers(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"give 10 mg now", "give 10_mg now"},
		{"≥ 10 mg/kg, ≤ 0.5 mL", "≥_10_mg/kg, ≤_0.5_mL"},
		{"adrenaline 1:200 000 in it", "adrenaline 1:200_000_in it"},
		{"(10–20 µg) by 2 × 5 mg", "(10–20_µg) by 2_×_5_mg"},
		{"5 to 10 %", "5_to 10_%"},
		{"N01AX03 and B12 are codes", "N01AX03 and B12 are codes"},
		{"bring 12 80 37 to me", "bring 12 80 37_to me"},
		{"one - two", "one - two"},
		{"12 hydroxyethylaminopropylamine", "12 hydroxyethylaminopropylamine"},
		{" 10\u00a0mg\t5  mg ", "10_mg 5_mg"},
		{"", ""},
	} {
		if got := strings.ReplaceAll(bindNumbers(c.in), "\u00a0", "_"); got != c.want {
			t.Errorf("%q becomes %q, want %q", c.in, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.SampledFrom([]string{"give", "slowly", "into a vein", "again after", "and", "morphine"})
		dose := rapid.SampledFrom([]string{"10 mg", "≤ 4.5 mg/kg", "1 000 mL", "> 2 min", "7.5 %", "1:200 000 of it"})
		var text []string
		for range rapid.IntRange(1, 40).Draw(t, "n") {
			text = append(text, word.Draw(t, "word"), dose.Draw(t, "dose"))
		}
		it := BookItem{Text: strings.Join(text, " "), Level: rapid.IntRange(0, 2).Draw(t, "level"), Strong: rapid.Bool().Draw(t, "strong")}
		it.Small, it.Sign = it.Text, &BookSign{it.Text}
		l := laid(t, &Book{Subtitle: it.Text, Sections: []BookSection{{Heading: it.Text, Items: []BookItem{it}}}}, A4)
		for _, page := range l.pages {
			for _, row := range page {
				var r bookRecorder
				row.draw(&r, row.y)
				for _, w := range r.drawn {
					if torn.MatchString(w.text) {
						t.Errorf("a line ends %q", w.text)
					}
				}
			}
		}
	})
}

// torn is a line that ends in a number, or in the sign before one.
var torn = regexp.MustCompile(`(^| )([0-9.,:]+|[≤>])$`)

// The box stands beside what it says, or, where that is nothing, on the line.
func TestBookSignBox(t *testing.T) {
	for _, c := range []struct {
		label string
		words int
	}{{"", 3}, {"agrees", 4}, {strings.Repeat("agrees with the protocol of this clinic; ", 6), 6}} {
		var r bookRecorder
		laid(t, &Book{Words: bookEnglish, Sections: []BookSection{{Items: []BookItem{{Sign: &BookSign{c.label}}}}}}, A4).draw(&r, 0)
		var tick box
		for _, h := range r.hands {
			if math.Abs((h.y1-h.y0)-(h.x1-h.x0)) < 1e-6 {
				tick = h
			}
		}
		words := r.texts[:len(r.texts)-1] // without the foot, which is a page's number
		if len(words) != c.words || len(r.hands) != 4 {
			t.Fatalf("%q: words %v, places to write %v", c.label, words, r.hands)
		}
		base := words[0].y0 + 0.73*bookTextSize
		switch middle := (tick.y0 + tick.y1) / 2; {
		case c.label == "" && math.Abs(tick.y1-r.hands[1].y1) > 0.01:
			t.Errorf("the box ends at %.1f, the line stands at %.1f", tick.y1, r.hands[1].y1)
		case c.label != "" && math.Abs(middle-(base-0.365*bookTextSize)) > 0.1:
			t.Errorf("the middle of the box is at %.1f, its words stand on %.1f", middle, base)
		}
		if tick.x1 > words[0].x0-2 || tick.x1-tick.x0 < 4*mm {
			t.Errorf("%q: the box is %v, the words begin at %.1f", c.label, tick, words[0].x0)
		}
	}
}

// dense is text without its white space, which lines and pages change.
func dense(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
}

// A reader who selects, searches, or has the document read out finds the words
// in order, and the signs of doses as signs.
func TestBookTextIsText(t *testing.T) {
	b := rules()
	text := dense(rawText(t, book(t, b, A4), "-raw"))
	from := 0
	next := func(want string) {
		if want = dense(want); want == "" {
			return
		}
		i := strings.Index(text[from:], want)
		if i < 0 {
			t.Errorf("%q is missing, or out of order", want)
			return
		}
		from += i + len(want)
	}
	next(b.Title)
	next(b.Subtitle)
	for _, s := range b.Sections {
		if !strings.HasPrefix(s.Heading, "a drug whose") { // runs beside its aside
			next(s.Heading)
			next(s.Aside)
		}
		for _, it := range s.Items {
			next(it.Text)
			next(it.Small)
			if it.Sign != nil {
				next(it.Sign.Label)
				next(b.Words.Name + b.Words.Date + b.Words.Signature)
			}
		}
	}
	next(b.Foot)
	for _, sign := range "≥≤°µ×½éñßč·…–" {
		if !regular().has(sign) || !heavy().has(sign) {
			t.Errorf("the fonts lack %q", sign)
		}
	}
	for _, want := range []string{"≤ 150 mg at once", "≤ 4.5 mg/kg in ½ h", "10 × 10 mg", "100 µg", "≥ 10/min", "25 °C", "é, ñ, ß, č"} {
		if !strings.Contains(text, dense(want)) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

func TestBookSaysWhichLettersItLacks(t *testing.T) {
	b := faults()
	b.Sections[8].Items[6].Sign.Label = "ሰ checked"
	text := pdfText(t, book(t, b, A4))
	for _, want := range []string{"□ characters that this printer's font lacks: U+1230", "□ checked"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

// Every page says what it is a page of, and a section that goes on says its
// name again.
func TestBookPagesStandAlone(t *testing.T) {
	b := faults()
	pages := strings.Split(strings.TrimSuffix(pdfText(t, book(t, b, A4)), "\f"), "\f")
	if len(pages) < 5 {
		t.Fatalf("%d pages: the test shows nothing", len(pages))
	}
	again := 0
	for n, text := range pages {
		for _, want := range []string{b.Title, b.Foot, fmt.Sprintf("page %d of %d", n+1, len(pages))} {
			if !strings.Contains(text, want) {
				t.Errorf("page %d does not say %q", n+1, want)
			}
		}
		first := strings.TrimSpace(strings.SplitN(text, "\n", 2)[0])
		if n > 0 && !strings.HasPrefix(first, "Oxygen concentrator") {
			t.Errorf("page %d begins with %q", n+1, first)
		}
		if strings.Contains(first, "… continued") {
			again++
		}
	}
	if again == 0 {
		t.Error("no section goes on over a page: the test shows nothing")
	}
	// One that is too long is cut, and says so once.
	long := &b.Sections[0]
	long.Heading, long.Items = strings.Repeat("concentrator ", 12), append(long.Items, long.Items...)
	if said := regexp.MustCompile(`(?m)^.*continued.*$`).FindAllString(pdfText(t, book(t, b, A4)), -1); len(said) == 0 ||
		!regexp.MustCompile(`^\f?(concentrator ){3,}[a-z]* … continued$`).MatchString(said[0]) {
		t.Errorf("the long heading is said again as %q", said)
	}
}

// --- what is drawn, whatever is given ---

// bookRecorder notes the size of words, and where a hand is to write.
type bookRecorder struct {
	formRecorder
	drawn []sizedText
	hands []box
}

type sizedText struct {
	text string
	size float64
}

func (r *bookRecorder) note(size float64, text string) {
	r.drawn = append(r.drawn, sizedText{text, size})
}

func (r *bookRecorder) text(at spot, a anchor, size float64, runs ...run) {
	for _, u := range runs {
		r.note(size, u.text)
	}
	r.formRecorder.text(at, a, size, runs...)
}

func (r *bookRecorder) strong(at spot, a anchor, size float64, text string) {
	r.note(size, text)
	r.formRecorder.strong(at, a, size, text)
}

func (r *bookRecorder) swatch(at box, _ classLabel) { r.rect(at, 0, pen{}, none) }

func (r *bookRecorder) rect(b box, round float64, p pen, i ink) {
	r.hands = append(r.hands, b)
	r.formRecorder.rect(b, round, p, i)
}

func (r *bookRecorder) line(a, b spot, p pen) {
	if p.width == 0.6 { // to sign on
		r.hands = append(r.hands, box{a.x, a.y - 8*mm, b.x, a.y})
	}
	r.formRecorder.line(a, b, p)
}

// saw draws a book, and answers its words by their size, without white space
// and repeated headings; and what is wrong with its pages.
func saw(l *bookLayout) (by map[float64]string, problems []string) {
	all := map[float64]*strings.Builder{}
	for n, page := range l.pages {
		var r bookRecorder
		l.draw(&r, n)
		for _, p := range r.problems(l.wide, l.high) {
			problems = append(problems, fmt.Sprintf("page %d: %s", n+1, p))
		}
		for _, s := range r.spots {
			if !(s.x >= 18*mm-0.01 && s.x <= l.wide-18*mm+0.01 && s.y >= 13*mm-0.01 && s.y <= l.high-8.5*mm) { // NaN too
				problems = append(problems, fmt.Sprintf("page %d: ink at %v, in the margin", n+1, s))
			}
		}
		for i, h := range r.hands {
			for _, w := range r.texts {
				if h.meets(w.box) {
					problems = append(problems, fmt.Sprintf("page %d: %q where the hand writes", n+1, w.text))
				}
			}
			for _, o := range r.hands[:i] {
				if h.meets(o) {
					problems = append(problems, fmt.Sprintf("page %d: two places to write on each other", n+1))
				}
			}
		}
		for _, row := range page {
			// What stands in the foot lies lower than any row.
			if row.y+row.high > l.high-17*mm+0.01 {
				problems = append(problems, fmt.Sprintf("page %d: a row runs into the foot", n+1))
			}
			if row.repeat {
				continue
			}
			var r bookRecorder
			row.draw(&r, row.y)
			for _, w := range r.drawn {
				if all[w.size] == nil {
					all[w.size] = &strings.Builder{}
				}
				all[w.size].WriteString(dense(w.text))
			}
		}
	}
	by = map[float64]string{}
	for size, text := range all {
		by[size] = text.String()
	}
	return by, problems
}

func weirdBook(text *rapid.Generator[string]) *rapid.Generator[*Book] {
	band := rapid.SampledFrom(append(term.DrugClassList.Codes(), "", "", ""))
	long := rapid.Custom(func(t *rapid.T) string {
		parts := rapid.SliceOfN(text, 0, 4).Draw(t, "parts")
		return strings.Repeat(strings.Join(parts, " ")+" ", rapid.SampledFrom([]int{1, 1, 1, 1, 5, 40}).Draw(t, "times"))
	})
	return rapid.Custom(func(t *rapid.T) *Book {
		w := func() string { return text.Draw(t, "word") }
		b := &Book{Title: w(), Subtitle: long.Draw(t, "subtitle"), Foot: w(), Words: BookWords{w(), w(), w(), w(), w(), w()}}
		for range rapid.IntRange(1, 8).Draw(t, "sections") {
			s := BookSection{Heading: rapid.OneOf(text, long).Draw(t, "heading"), Aside: w(), Band: string(band.Draw(t, "band")), Keep: rapid.Bool().Draw(t, "keep")}
			for range rapid.IntRange(0, 8).Draw(t, "items") {
				it := BookItem{Text: long.Draw(t, "text"), Small: rapid.OneOf(text, long).Draw(t, "small"),
					Level: rapid.IntRange(0, 2).Draw(t, "level"), Strong: rapid.Bool().Draw(t, "strong")}
				if rapid.IntRange(0, 3).Draw(t, "sign?") == 0 {
					it.Sign = &BookSign{rapid.OneOf(text, long).Draw(t, "label")}
				}
				s.Items = append(s.Items, it)
			}
			b.Sections = append(b.Sections, s)
		}
		return b
	})
}

// No letter is lost and none comes before its time; nothing lies on anything
// else, in a margin, or where the hand is to write.
func TestAnyBookIsWhole(t *testing.T) {
	several := 0
	rapid.Check(t, func(t *rapid.T) {
		b := weirdBook(weirdText()).Draw(t, "book")
		b.Sections = append(b.Sections, BookSection{Heading: "not empty"})
		l := laid(t, b, rapid.SampledFrom([]PaperSize{A4, Letter, 9}).Draw(t, "size"))
		if len(l.pages) > 1 {
			several++
		}
		got, problems := saw(l)
		for _, p := range problems {
			t.Error(p)
		}
		want := map[float64]string{}
		say := func(size float64, text string) {
			want[size] += dense(legible(text, func(rune) {}))
		}
		say(bookTitleSize, b.Title)
		for _, s := range b.Sections {
			say(bookHeadSize, s.Heading)
			say(bookAsideSize, s.Aside)
			for _, it := range s.Items {
				say(bookTextSize, it.Text)
				say(bookSmallSize, it.Small)
				if it.Sign != nil {
					say(bookTextSize, it.Sign.Label)
				}
			}
		}
		for size, text := range want {
			if got[size] != text {
				t.Errorf("at %v pt: drawn %q, given %q", size, got[size], text)
			}
		}
		if sub := dense(legible(b.Subtitle, func(rune) {})); !strings.HasPrefix(got[bookNoteSize], sub) {
			t.Errorf("under the title: drawn %q, given %q", got[bookNoteSize], sub)
		}
	})
	if several == 0 {
		t.Error("none had more than a page: the test shows nothing")
	}
}

// A heading that itself goes on over a page is not repeated over its own end.
func TestBookLongHeadingIsSaidOnce(t *testing.T) {
	torn := 0
	for fill := range 60 {
		b := &Book{Words: bookEnglish, Sections: []BookSection{{}, {Heading: strings.Repeat("as long as a rule ", 30), Items: []BookItem{{Text: "item"}}}}}
		for range fill {
			b.Sections[0].Items = append(b.Sections[0].Items, BookItem{Text: "filling"})
		}
		on := map[int]int{}
		for p, page := range laid(t, b, A4).pages {
			for k, row := range page {
				if row.repeat && (k+1 == len(page) || page[k+1].head) {
					t.Errorf("behind %d items, page %d: repeated over its own end", fill, p+1)
				}
				if row.head {
					on[p]++
				}
			}
		}
		if len(on) > 1 {
			torn++
		}
	}
	if torn == 0 {
		t.Error("no heading went on over a page: the test shows nothing")
	}
}

// Every word is on the paper, as a program that knows nothing of this one
// reads it, and none outside of the margins.
func TestAnyBookIsOnPaper(t *testing.T) {
	word := rapid.OneOf(rapid.SampledFrom([]string{"≥", "0.5", "mg/kg", "½", "25", "°C", "µg", "×", "été", "(iv)", "N01AX03", "<b>&", "premedication"}),
		rapid.StringMatching(`[a-zA-Zäéñßčř0-9]{1,9}`))
	text := rapid.Map(rapid.SliceOfN(word, 1, 7), func(w []string) string { return strings.Join(w, " ") })
	rapid.Check(t, func(rt *rapid.T) {
		b := weirdBook(text).Draw(rt, "book")
		b.Words = bookEnglish
		size := rapid.SampledFrom([]PaperSize{A4, Letter}).Draw(rt, "size")
		left := map[string]int{}
		width, height := size.points()
		for _, w := range onPaperWords(t, book(t, b, size)) {
			left[w.text]++
			// The box is that of the line, higher than its letters.
			if w.x0 < 18*mm-1 || w.x1 > width-18*mm+1 || w.y0 < 11*mm || w.y1 > height-8*mm {
				rt.Errorf("%q at %v, in a margin", w.text, w.box)
			}
		}
		given := []string{b.Title, b.Subtitle}
		for _, s := range b.Sections {
			given = append(given, s.Heading, s.Aside)
			for _, it := range s.Items {
				given = append(given, it.Text, it.Small)
				if it.Sign != nil {
					given = append(given, it.Sign.Label, "name", "date", "(year-month-day)", "signature")
				}
			}
		}
		for _, w := range strings.Fields(strings.Join(given, " ")) {
			if left[w]--; left[w] < 0 {
				rt.Errorf("%q is missing", w)
			}
		}
	})
}

// A book with an item less, at the end of a section, or a section less, at the
// end of the book, has no more pages. (The first item of a section can save a
// page: without it the heading must stay with the section below.)
func TestBookPagesGrow(t *testing.T) {
	drawn := func(it BookItem) bool { return it.Sign != nil || dense(it.Text+it.Small) != "" }
	grew := 0
	rapid.Check(t, func(t *rapid.T) {
		b := weirdBook(rapid.StringMatching(`[a-z]{1,8}( [a-z]{1,8}){0,9}`)).Draw(t, "book")
		size := rapid.SampledFrom([]PaperSize{A4, Letter}).Draw(t, "size")
		pages := len(laid(t, b, size).pages)
		for range 12 {
			n := rapid.IntRange(0, len(b.Sections)-1).Draw(t, "section")
			last := n == len(b.Sections)-1
			switch s := &b.Sections[n]; {
			case len(s.Items) > 0 && (last || slices.ContainsFunc(s.Items[:len(s.Items)-1], drawn)):
				s.Items = s.Items[:len(s.Items)-1]
			case last && n > 0:
				b.Sections = b.Sections[:n]
			default:
				continue
			}
			fewer := len(laid(t, b, size).pages)
			if fewer > pages {
				t.Fatalf("%d pages, and %d with less on them", pages, fewer)
			}
			if fewer < pages {
				grew++
			}
			pages = fewer
		}
	})
	if grew == 0 {
		t.Error("no page was saved: the test shows nothing")
	}
}

// What belongs together stays together: no heading at the end of a page, two
// lines at least of a long item on each, what is signed with the signature,
// and a short item, or a rule with all its lines, on one page.
func TestBookKeepsTogether(t *testing.T) {
	over := 0
	rapid.Check(t, func(t *rapid.T) {
		b := &Book{Title: "x", Words: BookWords{Name: "signed"}}
		parents, room := 0, map[string]float64{}
		for n := range rapid.IntRange(1, 14).Draw(t, "sections") {
			s := BookSection{Heading: fmt.Sprintf("heading%d", n), Keep: rapid.Bool().Draw(t, "keep")}
			items := rapid.IntRange(0, 9).Draw(t, "items")
			if items == 0 && parents == bookLevels {
				items = 1
			}
			if parents++; items > 0 {
				parents = 0
			}
			rule := false
			for i := range items {
				it := BookItem{Text: strings.Repeat(fmt.Sprintf("item%d.%d ", n, i), rapid.IntRange(1, 6).Draw(t, "words"))}
				switch rapid.IntRange(0, 4).Draw(t, "kind") {
				case 0:
					it.Text = strings.Repeat(it.Text, 40)
				case 1:
					it.Strong, rule = true, true
				case 2:
					it.Small = it.Text
				case 3:
					if !rule && i > 0 {
						it.Sign = &BookSign{}
						it.Text = strings.Repeat(it.Text, rapid.SampledFrom([]int{1, 40}).Draw(t, "times"))
					} else if rule {
						it, rule = BookItem{Sign: &BookSign{}}, false
					}
				}
				if it.Sign != nil {
					room[fmt.Sprintf("item%d.%d", n, i)] = signHeight + signLine + 5 + innerGap
				}
				s.Items = append(s.Items, it)
			}
			b.Sections = append(b.Sections, s)
		}
		// Headings with nothing below them are a list, and lists end anywhere.
		b.Sections = append(b.Sections, BookSection{Heading: "end", Items: []BookItem{{Text: "of it"}}})
		l := laid(t, b, rapid.SampledFrom([]PaperSize{A4, Letter}).Draw(t, "size"))
		where := map[string]map[int]int{} // lines of an item by page
		for p, page := range l.pages {
			before := "" // the last words before
			for k, row := range page {
				var r bookRecorder
				row.draw(&r, row.y)
				for _, w := range r.drawn {
					id, _, _ := strings.Cut(w.text, " ")
					if w.text == "signed" {
						if !strings.HasPrefix(before, "item") && !row.first && before != "signed" {
							t.Errorf("page %d: signed beneath %q", p+1, before)
						}
					}
					before = w.text
					if row.repeat || w.text == "signed" {
						continue
					}
					if where[id] == nil {
						where[id] = map[int]int{}
					}
					where[id][p]++
					if k == len(page)-1 && p+1 < len(l.pages) && w.size == bookHeadSize {
						t.Errorf("page %d ends with the heading %q", p+1, w.text)
					}
				}
			}
		}
		for id, on := range where {
			lines := 0
			for _, n := range on {
				lines += n
			}
			for p, n := range on {
				if n == 1 && lines > 1 {
					t.Errorf("page %d has one line of the %d of %s", p+1, lines, id)
				}
			}
			if len(on) > 1 {
				over++
				if float64(lines)*bookTextLine+room[id] <= wholeItem {
					t.Errorf("%s, of %d lines, is torn", id, lines)
				}
			}
		}
	})
	if over == 0 {
		t.Error("no item went on over a page: the test shows nothing")
	}
}

// A rule with its lines and the lines to sign on is not torn while it is short.
func TestBookKeepsARuleWhole(t *testing.T) {
	for fill := range 60 {
		b := &Book{Title: "x", Words: bookEnglish, Sections: []BookSection{{Heading: "drug"}}}
		s := &b.Sections[0]
		for range fill {
			s.Items = append(s.Items, BookItem{Text: "filling"})
		}
		s.Items = append(s.Items, BookItem{Text: "rule", Strong: true}, BookItem{Text: "rule one", Level: 1, Small: "rule source"},
			BookItem{Text: "rule two", Level: 1, Small: "rule source"}, BookItem{Sign: &BookSign{"rule holds"}})
		var on []int
		l := laid(t, b, A4)
		for p, page := range l.pages {
			for _, row := range page {
				var r bookRecorder
				row.draw(&r, row.y)
				for _, w := range r.drawn {
					if strings.HasPrefix(w.text, "rule") || w.text == bookEnglish.Name {
						on = append(on, p)
					}
				}
			}
		}
		if len(on) != 7 || on[0] != on[6] {
			t.Errorf("behind %d other items the rule stands on pages %v", fill, on)
		}
	}
}

// Lines to sign on never stand at the head of a page, away from what is signed.
func TestBookSignsStandUnderWhatIsSigned(t *testing.T) {
	for fill := range 60 {
		s := BookSection{Heading: "drug", Items: []BookItem{{Text: "long rule", Strong: true}}}
		for range fill {
			s.Items = append(s.Items, BookItem{Text: "filling"})
		}
		s.Items = append(s.Items, BookItem{Sign: &BookSign{"rule holds"}}, BookItem{Sign: &BookSign{"so it does"}})
		for p, page := range laid(t, &Book{Words: bookEnglish, Sections: []BookSection{s}}, Letter).pages {
			before := ""
			for _, row := range page {
				var r bookRecorder
				row.draw(&r, row.y)
				if r.drawn[0].text == "rule holds" && before != "filling" && before != "long rule" {
					t.Errorf("behind %d items, page %d: the lines to sign on stand under %q", fill, p+1, before)
				}
				before = r.drawn[0].text
			}
		}
	}
}

// A section that is to be kept does not begin among the last lines.
func TestBookKeep(t *testing.T) {
	lowest := func(keep bool) float64 {
		low := 0.0
		for fill := range 60 {
			b := &Book{Title: "x", Sections: []BookSection{{Heading: "first"}, {Heading: "kept", Keep: keep}}}
			for range fill {
				b.Sections[0].Items = append(b.Sections[0].Items, BookItem{Text: "filling"})
			}
			for range 20 {
				b.Sections[1].Items = append(b.Sections[1].Items, BookItem{Text: "line"})
			}
			for _, page := range laid(t, b, A4).pages {
				for _, row := range page {
					if row.section == 1 && row.first {
						low = max(low, row.y)
					}
				}
			}
		}
		return low
	}
	_, height := A4.points()
	kept, not := lowest(true), lowest(false)
	if room := height - bookFoot - kept; room < 120 || room > 150 {
		t.Errorf("a kept section begins with %.0f pt left", room)
	}
	if room := height - bookFoot - not; room > 60 {
		t.Errorf("one that is not begins with %.0f pt left at least", room)
	}
}

// A book twice as long is twice the work, and not four times.
func TestBookWorkGrowsWithItsLength(t *testing.T) {
	work := func(sections int) (allocs float64, pages int) {
		b := rules()
		drugs := b.Sections[2:]
		b.Sections = nil
		for len(b.Sections) < sections {
			b.Sections = append(b.Sections, drugs...)
		}
		b.Sections = b.Sections[:sections]
		allocs = testing.AllocsPerRun(1, func() {
			if err := WriteBook(io.Discard, b, Paper{Made: at(0)}); err != nil {
				t.Fatal(err)
			}
		})
		return allocs, len(laid(t, b, A4).pages)
	}
	none, _ := work(1)
	half, halfPages := work(250)
	whole, pages := work(500)
	if r := (whole - none) / (half - none); r > 2.2 {
		t.Errorf("500 sections take %.1f times the allocations of 250", r)
	}
	if per := (whole - none) / 500; per > 1500 {
		t.Errorf("%.0f allocations a section", per)
	}
	if pages < 2*halfPages-2 || pages > 2*halfPages+2 {
		t.Errorf("500 sections have %d pages, 250 have %d", pages, halfPages)
	}
}

func BenchmarkBook500(b *testing.B) {
	long := rules()
	for len(long.Sections) < 500 {
		long.Sections = append(long.Sections, rules().Sections...)
	}
	for b.Loop() {
		if err := WriteBook(io.Discard, long, Paper{Made: at(0)}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestBookOnOnePage: a book that asks for one page gets it where it is but little
// longer, with every word; where it is far longer it is as it would be.
func TestBookOnOnePage(t *testing.T) {
	lines := func(n int) *Book {
		b := &Book{Title: "A leaf", OnePage: true}
		for i := range n {
			b.Sections = append(b.Sections, BookSection{Heading: fmt.Sprint("Part ", i), Items: []BookItem{{Text: fmt.Sprint("What is told in line ", i), Small: "a source"}}})
		}
		return b
	}
	pages := func(b *Book, size PaperSize) int { return strings.Count(pdfText(t, book(t, b, size)), "\f") }
	for _, size := range []PaperSize{A4, Letter} {
		for n, want := range map[int]bool{4: true, 14: true, 17: true, 60: false} {
			b := lines(n)
			free := lines(n)
			free.OnePage = false
			got := pages(b, size)
			if (got == 1) != want || !want && got != pages(free, size) || n > 13 && pages(free, size) == 1 {
				t.Errorf("%d parts on size %v: %d pages, without the wish %d", n, size, got, pages(free, size))
			}
			text := pdfText(t, book(t, b, size))
			for i := range n {
				if !strings.Contains(text, fmt.Sprint("What is told in line ", i)) {
					t.Errorf("%d parts: line %d is lost", n, i)
				}
			}
		}
	}
}
