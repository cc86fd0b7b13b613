package patient

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
