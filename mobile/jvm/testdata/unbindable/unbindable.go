// Package unbindable exports members that gobind cannot carry, one of each
// sort that matters, beside some that it can. The test sees by it that what is
// left out is noticed.
package unbindable

// Port has a method that crosses and one that does not.
type Port interface {
	Name() string
	Names() []string
}

// Answer has a field that crosses and one that does not.
type Answer struct {
	Status int
	Fields map[string]string
}

// Crosses does.
func (a *Answer) Crosses() int { return a.Status }

// Stays does not cross.
func (a *Answer) Stays() []int { return nil }

// Lost does not cross either.
func Lost(values map[string]string) int { return len(values) }

// Limits do not.
var Limits []int
