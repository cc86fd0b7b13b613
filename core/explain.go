package core

import (
	"errors"
	"strings"
	"unicode"
	"unicode/utf8"

	"chinlift/core/formulary"
	"chinlift/core/kit"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/store"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// Problem is an error as a person reads it: what happened, what to do, and
// that nothing was lost. Status is of HTTP, for the screens.
type Problem struct {
	Status int
	Code   string
	Field  string
	Words  string
}

// Explain puts an error into words. An error that no user can act on is
// called internal; its own text is for whoever mends it.
func (c *Companion) Explain(err error) Problem { return Explain(c.words, err) }

// Explain puts an error into words where there is no companion, because it
// could not be opened.
func Explain(words *word.Book, err error) Problem {
	s := Speaker{words}
	var row *RowError
	if errors.As(err, &row) {
		p := Explain(words, row.Err)
		if p.Field != "" {
			p.Field = row.Row.Name + "." + p.Field
		}
		p.Words = s.Say("paper.row", "what", s.KindName(timeline.Kind(row.Row.Kind+"/1")), "n", row.Row.N, "words", p.Words)
		return p
	}
	var file *formulary.FileError
	if errors.As(err, &file) {
		var faults []string
		for _, f := range file.Faults[:min(len(file.Faults), faultsMost)] {
			faults = append(faults, s.Say("rules.fault", "line", f.Line, "key", cmpOr(f.Key, file.File), "text", f.Text))
		}
		return Problem{422, "refused", "toml", s.Say("rules.refused", "faults", strings.Join(faults, " "))}
	}
	var rule *formulary.Error
	if errors.As(err, &rule) {
		return Problem{422, rule.Code, rule.Field, s.noDose(err)}
	}
	var list *kit.FileError
	if errors.As(err, &list) {
		return Problem{422, "refused", "toml", s.Say("kit.refused", "fault", list.Error())}
	}
	var ke *kit.Error
	if errors.As(err, &ke) {
		//word:prefix kit.error-
		key := "kit.error-" + ke.Code
		if !s.Has(key) {
			key = "kit.error-other"
		}
		return Problem{422, ke.Code, ke.Field, s.Say(key, "field", upperFirst(s.fieldName(ke.Field)))}
	}
	if errors.Is(err, ErrNotAPicture) {
		return Problem{422, "not-a-picture", "photo", s.Say("kit.not-a-picture")}
	}
	if p, ok := s.explainLock(err); ok {
		return p
	}
	var fe *timeline.FieldError
	var se *store.Error
	var ie *InputError
	var pe *patient.Error
	switch {
	case errors.As(err, &ie):
		return inputProblem(words, ie)
	case errors.As(err, &pe):
		return inputProblem(words, &InputError{Input: inputNamed(pe.Field), Code: pe.Code, Given: pe.Given, Low: pe.Low, High: pe.High})
	case errors.As(err, &fe):
		//word:prefix fielderror.
		field := fe.Field
		if strings.HasPrefix(field, WatchField("")) {
			field = "watcher"
		}
		field = s.fieldName(field)
		key := "fielderror." + fe.Code
		if !s.Has(key) {
			key = "fielderror.other"
		}
		if fe.Field == "id" && fe.Code == "contradiction" {
			key = "fielderror.used-id"
		}
		if (fe.Code == "out-of-bounds" || fe.Code == "wrong-unit") && fe.Low == "" {
			key = "fielderror.other"
		}
		args := []any{"field", upperFirst(field)}
		if fe.Low != "" {
			args = append(args, "low", s.bound(fe.Low), "high", s.bound(fe.High))
		}
		return Problem{422, fe.Code, fe.Field, s.Say(key, args...)}
	case errors.As(err, &se):
		//word:prefix storeerror.
		key := "storeerror." + se.Code
		if !s.Has(key) {
			key = "storeerror.io"
		}
		return Problem{507, se.Code, "", s.Say(key)}
	case errors.Is(err, store.ErrSuspended), errors.Is(err, store.ErrClosed):
		return Problem{503, "asleep", "", s.Say("storeerror.asleep")}
	case errors.Is(err, store.ErrReadOnly):
		return Problem{403, "read-only", "", s.Say("storeerror.read-only")}
	case errors.Is(err, store.ErrInUse):
		return Problem{409, "in-use", "", s.Say("storeerror.in-use")}
	case errors.Is(err, store.ErrSealed):
		return Problem{423, "locked", "", s.Say("seal.is-locked")}
	case errors.Is(err, store.ErrNoVault):
		return Problem{409, "not-set-up", "", s.Say("seal.not-set-up")}
	case errors.Is(err, store.ErrNoSafe):
		return Problem{409, "no-safe", "", s.Say("seal.no-safe")}
	case errors.Is(err, store.ErrNoBlob):
		return Problem{404, "no-blob", "", s.Say("storeerror.no-blob")}
	case errors.Is(err, ErrMovedAway):
		return Problem{409, "moved-away", "", s.Say("storeerror.moved-away")}
	case errors.Is(err, ErrStruckOut):
		return Problem{409, "struck-out", "", s.Say("storeerror.struck-out")}
	case errors.Is(err, ErrOpening):
		return Problem{409, "opening", "", s.Say("storeerror.opening")}
	case errors.Is(err, ErrNotHere):
		return Problem{404, "not-here", "", s.Say("storeerror.not-here")}
	case errors.Is(err, ErrNothingTyped):
		return Problem{422, "nothing", "", s.Say("paper.nothing")}
	case errors.Is(err, ErrNothingLeft):
		return Problem{409, "nothing-left", "", s.Say("storeerror.nothing-left")}
	}
	return Problem{500, "internal", "", s.Say("storeerror.internal")}
}

// faultsMost is how many faults of a file are told at once.
const faultsMost = 4

// upperFirst begins a sentence.
func upperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// bound writes a limit as it is read; one that is a bare count stays as it is.
func (s Speaker) bound(text string) string {
	a, err := quantity.Parse(text)
	if err != nil {
		return text
	}
	return s.Amount(a)
}

// fieldName gives the name of a field as it is asked for; one that no screen
// asks for stands as it is.
func (s Speaker) fieldName(field string) string {
	//word:prefix field.
	if key := "field." + field; s.Has(key) {
		return s.Say(key)
	}
	return field
}
