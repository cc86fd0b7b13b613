package core

import (
	"context"

	"chinlift/core/formulary"
)

// DrugCodes looks a drug up by its code: whether the rules know it, and its
// code in the index of the WHO Collaborating Centre for Drug Statistics
// Methodology (ATC), empty where the rules name none.
type DrugCodes func(drug string) (atc string, known bool)

// DrugCodes gives the look-up by the rules that hold now, the clinic's own
// among them.
func (c *Companion) DrugCodes(ctx context.Context) (DrugCodes, error) {
	f, err := c.Rules(ctx, c.clock.Now().Wall)
	if err != nil {
		return nil, err
	}
	return codesOfDrugs(f.Formulary), nil
}

// BuiltinDrugCodes gives the look-up by the rules that come with the
// companion: a code that it knows was not made up at a clinic.
func BuiltinDrugCodes() (DrugCodes, error) {
	f, err := formulary.Builtin()
	if err != nil {
		return nil, err
	}
	return codesOfDrugs(f), nil
}

func codesOfDrugs(f *formulary.Formulary) DrugCodes {
	return func(code string) (string, bool) {
		d := f.Find(code)
		if d == nil {
			return "", false
		}
		return d.ATC, true
	}
}
