package core

import "chinlift/core/patient"

var airwayReckonings = []Reckoning{
	{"tube", []Input{needed(inAge), inWeight, inPremature, inWeightBy}, tubes},
	{"supraglottic-size", []Input{needed(inWeight), inAge, inLength, inWeightBy}, answer("size", patient.MaskSize)},
}

func tubes(g Given, r *Result) error {
	t, err := patient.TubeForAge(g.patient())
	if err != nil {
		return err
	}
	for _, v := range []struct {
		name string
		a    patient.Answer
	}{{"uncuffed", t.Uncuffed}, {"cuffed", t.Cuffed}, {"oral_length", t.Oral}, {"nasal_length", t.Nasal}} {
		if v.a.Rule != "" {
			r.take(v.name, v.a)
		}
	}
	return nil
}
