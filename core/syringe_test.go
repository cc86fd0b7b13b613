package core

import (
	"testing"

	"chinlift/core/quantity"
	"chinlift/core/word"
)

// What is more than a syringe holds says how often it is filled.
func TestFillsOfASyringe(t *testing.T) {
	s := Speaker{word.English()}
	for _, tt := range []struct{ volume, syringe, want string }{
		{"0.6 mL", "1 mL", "a syringe of 1 mL"},
		{"20 mL", "20 mL", "a syringe of 20 mL"},
		{"20.5 mL", "20 mL", "2 fills of a syringe of 20 mL"},
		{"37 mL", "20 mL", "2 fills of a syringe of 20 mL"},
		{"50 mL", "20 mL", "3 fills of a syringe of 20 mL"},
	} {
		if got := s.fills(quantity.MustParse(tt.volume), quantity.MustParse(tt.syringe)); got != tt.want {
			t.Errorf("%s in %s: %q, want %q", tt.volume, tt.syringe, got, tt.want)
		}
	}
}
