package waking

import (
	"chinlift/core/patient"
	"chinlift/core/quantity"
)

// count checks a number of points.
func count(field string, n *int, high int) error {
	fault := func(code string) error {
		return &patient.Error{Field: field, Code: code, Given: points(*n).String(), Low: "0 {score}", High: points(high).String()}
	}
	switch {
	case n == nil:
		return &patient.Error{Field: field, Code: patient.Missing}
	case *n < 0:
		return fault(patient.TooLow)
	case *n > high:
		return fault(patient.TooHigh)
	}
	return nil
}

func points(n int) quantity.Amount {
	return quantity.Amount{Value: quantity.DecimalFromInt(int64(n)), Unit: quantity.ScoreOne}
}

func minutes(n int64) quantity.Amount {
	return quantity.Amount{Value: quantity.DecimalFromInt(n), Unit: quantity.Minute}
}
