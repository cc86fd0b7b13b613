package patient

import (
	"chinlift/core/exact"
	"chinlift/core/quantity"
)

// Read gives a in the unit u, for the packages that reckon with a patient's
// amounts. Both limits, numbers in u, are allowed. The error is an *Error that
// names the field: Missing, WrongUnit, TooLow or TooHigh.
func Read(field string, a quantity.Amount, u quantity.Unit, low, high string) (*exact.Number, error) {
	x, fault := exact.Read(field, a, u, low, high)
	if fault != nil {
		return nil, (*Error)(fault)
	}
	return x, nil
}
