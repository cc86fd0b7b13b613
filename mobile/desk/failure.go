package main

import "chinlift/core"

// failure is an error in words, with its cause.
type failure struct {
	words string
	cause error
}

func (f *failure) Error() string { return f.words }

func (f *failure) Unwrap() error { return f.cause }

// cannot says that a folder or a file cannot be worked with, and why.
func (c *command) cannot(path string, cause error) error {
	why := core.Explain(c.words, cause)
	if why.Code == "internal" {
		// What the operating system said is all that is known.
		return &failure{c.words.Say("desk.cannot", "path", path, "error", cause.Error()), cause}
	}
	return &failure{c.words.Say("desk.because", "path", path, "words", why.Words), cause}
}
