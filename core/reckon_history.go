package core

import "chinlift/core/patient"

var historyReckonings = []Reckoning{
	{"history-young", []Input{needed(inAge)}, history(patient.HistoryYoung)},
	{"history-clark", []Input{needed(inWeight), inWeightBy}, history(patient.HistoryClark)},
	{"history-fried", []Input{needed(inAge)}, history(patient.HistoryFried)},
	{"history-cowling", []Input{needed(inAge)}, history(patient.HistoryCowling)},
}

// history makes a calculation of a rule of the past. It takes no adult dose, so
// that it cannot give a child's.
func history(rule patient.Rule) func(Given, *Result) error {
	return answer("share", func(p patient.Patient) (patient.Answer, error) { return patient.HistoryShare(p, rule) })
}
