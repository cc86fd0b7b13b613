package patient

import "chinlift/core/quantity"

// Weight gives the weight itself in kg, to a gram, with what is to be said of
// how it was come by. The error is that of the weight, or of whatever else is
// known of the patient and cannot be true.
func Weight(p Patient) (Answer, error) {
	a := Answer{Rule: "weight"}
	w, err := p.weighed(&a)
	if err != nil {
		return Answer{}, err
	}
	a.Value = amount(w, 3, quantity.Kg)
	return a, nil
}

// Check refuses what cannot be true of any patient, whether or not a rule asks
// for it. What is not known it does not miss.
func Check(p Patient) error {
	if !p.Weight.IsZero() {
		if _, err := p.weighed(new(Answer)); err != nil {
			return err
		}
	}
	return p.others()
}
