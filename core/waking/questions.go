package waking

import (
	"fmt"
	"io/fs"
	"slices"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/rulefile"
	"chinlift/core/term"
)

// Questions is a list of what to ask.
type Questions struct {
	Code      string // the file's name without its ending
	Version   string // SHA-256 of the file, in hexadecimal
	Name      Text
	Questions []Question
}

// Question is one thing to ask, with what sort of answer it takes.
type Question struct {
	Code    string           `toml:"code"`
	Answer  AnswerSort       `toml:"answer"`
	Tell    bool             `toml:"tell"`     // yes, AtLeast and over, or any grade: told to whoever gave the anaesthetic
	AtLeast quantity.Amount  `toml:"at_least"` // of a score, with Tell
	After   []term.Technique `toml:"after"`    // asked only after one of these; none: always
	From    quantity.Amount  `toml:"from"`     // not asked under this age; absent: at every age
	Again   bool             `toml:"again"`    // asked once more, 7 to 14 days after
	Source  string           `toml:"source"`
	Mark    term.Mark        `toml:"mark"`
	Name    Text             `toml:"name"`
	Ask     Text             `toml:"ask"`
}

// AnswerSort is what sort of answer a question takes.
type AnswerSort string

// The sorts of answer.
const (
	AnswerYesNo AnswerSort = "yes-no"
	AnswerScore AnswerSort = "score" // 0 to 10
	AnswerGrade AnswerSort = "grade" // a term.Grade
	AnswerWords AnswerSort = "words" // they may name somebody: into the private part
)

// ParseQuestions reads a list of questions. Unknown keys, a question without a
// source, two with one code, an answer of no sort, a technique that is none, a
// bound where there is no score to tell, and a missing English text are
// refused, with the question's code.
func ParseQuestions(code string, data []byte) (*Questions, error) {
	var file struct {
		Name      Text       `toml:"name"`
		Questions []Question `toml:"question"`
	}
	fail := func(format string, args ...any) (*Questions, error) {
		return nil, fmt.Errorf("questions %s: "+format, append([]any{code}, args...)...)
	}
	if err := rulefile.Decode(data, &file); err != nil {
		return fail("%w", err)
	}
	if file.Name["en"] == "" {
		return fail("the name in English is missing")
	}
	if len(file.Questions) == 0 {
		return fail("there is no question")
	}
	for i, q := range file.Questions {
		switch {
		case !rulefile.CodeOK(q.Code):
			return fail("question %d: code %q is not lower case letters, digits and hyphens", i+1, q.Code)
		case slices.ContainsFunc(file.Questions[:i], func(o Question) bool { return o.Code == q.Code }):
			return fail("question %s stands twice", q.Code)
		case q.Name["en"] == "" || q.Ask["en"] == "":
			return fail("question %s: name or ask in English is missing", q.Code)
		case q.Source == "":
			return fail("question %s has no source", q.Code)
		case !term.MarkList.Has(q.Mark):
			return fail("question %s: mark %q is not read, practice or memory", q.Code, q.Mark)
		case q.Answer != AnswerYesNo && q.Answer != AnswerScore && q.Answer != AnswerGrade && q.Answer != AnswerWords:
			return fail("question %s: answer %q is of no sort", q.Code, q.Answer)
		case q.AtLeast.IsZero() == (q.Tell && q.Answer == AnswerScore):
			return fail("question %s: at_least stands with tell and a score, and only there", q.Code)
		case q.Tell && q.Answer == AnswerWords:
			return fail("question %s: whether words are to be told is for who hears them", q.Code)
		}
		for _, t := range q.After {
			if !term.TechniqueList.Has(t) {
				return fail("question %s: technique %q is none", q.Code, t)
			}
		}
		if !q.AtLeast.IsZero() {
			if _, err := patient.Read("at_least", q.AtLeast, quantity.ScoreOne, "0", "10"); err != nil {
				return fail("question %s: %w", q.Code, err)
			}
		}
		if !q.From.IsZero() {
			if _, err := patient.Read("from", q.From, quantity.Year, "0", "120"); err != nil {
				return fail("question %s: %w", q.Code, err)
			}
		}
	}
	return &Questions{Code: code, Version: rulefile.Version(data), Name: file.Name, Questions: file.Questions}, nil
}

// NextDay gives the questions of the day after.
func NextDay() (*Questions, error) {
	all, err := rulefile.Folder(files, "questions", ParseQuestions)
	if err != nil {
		return nil, err
	}
	for _, q := range all {
		if q.Code == "next-day" {
			return q, nil
		}
	}
	return nil, fmt.Errorf("questions next-day: %w", fs.ErrNotExist)
}

// For gives the questions for a patient after these techniques. Where the age
// or the techniques are not known, nothing is left out for them.
func (l *Questions) For(p patient.Patient, techniques []term.Technique) ([]Question, error) {
	for _, t := range techniques {
		if !term.TechniqueList.Has(t) {
			return nil, &patient.Error{Field: "technique", Code: patient.UnknownCode, Given: string(t)}
		}
	}
	if !p.Age.IsZero() {
		if _, err := patient.Read("age", p.Age, quantity.Year, "0", "120"); err != nil {
			return nil, err
		}
	}
	var all []Question
	for _, q := range l.Questions {
		young := false
		if !p.Age.IsZero() && !q.From.IsZero() {
			n, err := p.Age.Cmp(q.From)
			if err != nil {
				return nil, err
			}
			young = n < 0
		}
		other := len(q.After) > 0 && len(techniques) > 0 && !slices.ContainsFunc(q.After, func(t term.Technique) bool { return slices.Contains(techniques, t) })
		if !young && !other {
			all = append(all, q)
		}
	}
	return all, nil
}

// Reply is an answer to a question; the field for its sort is filled, words are
// not handed here.
type Reply struct {
	Said  Said
	Score quantity.Amount
	Grade term.Grade
}

// ToTell reports whether an answer is one that whoever gave the anaesthetic
// should hear. The error is for a reply that is not of the question's sort.
func (q Question) ToTell(r Reply) (bool, error) {
	other := func(filled bool) error {
		if !filled {
			return &patient.Error{Field: q.Code, Code: patient.Missing}
		}
		return &patient.Error{Field: q.Code, Code: Contradiction}
	}
	switch q.Answer {
	case AnswerYesNo:
		if r.Said == "" || !r.Score.IsZero() || r.Grade != "" {
			return false, other(r.Said != "")
		}
		if err := r.Said.Check(q.Code); err != nil {
			return false, err
		}
		return q.Tell && r.Said == Yes, nil
	case AnswerScore:
		if r.Score.IsZero() || r.Said != "" || r.Grade != "" {
			return false, other(!r.Score.IsZero())
		}
		if _, err := patient.Read(q.Code, r.Score, quantity.ScoreOne, "0", "10"); err != nil {
			return false, err
		}
		if !q.Tell {
			return false, nil
		}
		n, err := r.Score.Cmp(q.AtLeast)
		return err == nil && n >= 0, err
	case AnswerGrade:
		if r.Grade == "" || r.Said != "" || !r.Score.IsZero() {
			return false, other(r.Grade != "")
		}
		if !term.GradeList.Has(r.Grade) {
			return false, &patient.Error{Field: q.Code, Code: patient.UnknownCode, Given: string(r.Grade)}
		}
		return q.Tell, nil
	}
	if r != (Reply{}) {
		return false, other(true)
	}
	return false, nil
}
