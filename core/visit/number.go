package visit

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// years gives the age, 0 to 120 years as in package patient; nil where it is
// not known.
func years(age quantity.Amount) (*exact.Number, error) {
	if age.IsZero() {
		return nil, nil
	}
	return patient.Read("age", age, quantity.Year, "0", "120")
}
