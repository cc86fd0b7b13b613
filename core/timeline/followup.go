package timeline

import (
	"chinlift/core/term"
)

// FollowUp is the answer to one question of the day after. Words are in the
// private part. The version of the list is kept, so that it can be told what
// was asked.
type FollowUp struct {
	Version  string     `json:"version"` // SHA-256 of the list's file
	Question string     `json:"question"`
	Answer   string     `json:"answer,omitempty"` // yes or no
	Score    *int       `json:"score,omitempty"`  // 0 to 10
	Grade    term.Grade `json:"grade,omitempty"`
}

// Kind is "follow-up/1".
func (*FollowUp) Kind() Kind { return "follow-up/1" }

// Check answers a *FieldError for the first field at fault.
func (f *FollowUp) Check() error {
	c := check(f)
	if !Hash(f.Version).Valid() {
		c.fail("version", "missing")
	}
	c.name("question", f.Question, true)
	yesNo(c, "answer", f.Answer)
	if f.Score != nil {
		c.count("score", *f.Score, 0, 10)
		if f.Answer != "" {
			c.fail("score", "contradiction")
		}
	}
	code(c, "grade", term.GradeList, f.Grade, false)
	if f.Grade != "" && (f.Answer != "" || f.Score != nil) {
		c.fail("grade", "contradiction")
	}
	return c.err()
}
