package kit

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
)

// read gives a in the unit u. Both limits, in u, are allowed; an empty high one
// is none. The error is an *Error that names the field.
func read(field string, a quantity.Amount, u quantity.Unit, low, high string) (*exact.Number, error) {
	x, fault := exact.Read(field, a, u, low, high)
	if fault != nil {
		return nil, (*Error)(fault)
	}
	return x, nil
}
