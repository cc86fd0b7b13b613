package waking

import (
	"chinlift/core/exact"
	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Felt is how bad something is that only the patient feels.
type Felt struct {
	Degree   term.Degree
	Cautions []patient.Caution
	Sources  []patient.Source
}

var (
	painScale = patient.Source{Title: "pain from 0 to 10 in the patient's own words: 1 to 3 mild, 4 to 6 moderate, 7 to 10 severe; from about 8 years on", Mark: term.MarkMemory}
	painLeave = patient.Source{Title: "Effects of changes in intraoperative management on recovery from anesthesia, BMC Anesthesiology", Year: 2015, Table: "1, criteria of discharge: pain 4 or less, nausea mild or none", Mark: term.MarkRead}
	nausea    = patient.Source{Author: "J. G. Boogaerts and others", Title: "Assessment of postoperative nausea using a visual analogue scale, Acta Anaesthesiologica Scandinavica 44:470", Year: 2000, Table: "0 to 1 none, 1 to 4 mild, 4 to 7 moderate, 7 to 10 severe; 4 is the threshold for a remedy", Via: "the abstract", Mark: term.MarkRead}
)

// Pain gives the degree of a pain of 0 to 10, in whole numbers, as the patient
// says it. A child under 8 years is not asked for a number. Sources: painScale,
// painLeave.
func Pain(p patient.Patient, said quantity.Amount) (Felt, error) {
	n, err := patient.Read("pain", said, quantity.ScoreOne, "0", "10")
	if err != nil {
		return Felt{}, err
	}
	if !n.IsWhole() {
		return Felt{}, &patient.Error{Field: "pain", Code: NotWhole, Given: said.String()}
	}
	f := Felt{Cautions: []patient.Caution{AskAgain, patient.ConfirmLocally}, Sources: []patient.Source{painScale, painLeave}}
	if !p.Age.IsZero() {
		age, err := patient.Read("age", p.Age, quantity.Year, "0", "120")
		if err != nil {
			return Felt{}, err
		}
		if age.Cmp(exact.Whole(8)) < 0 {
			term.Add(&f.Cautions, TooYoungForNumber)
		}
	}
	f.Degree = degree(n, 1, 4, 7)
	return f, nil
}

// Nausea gives the degree of a nausea of 0 to 10. A value on a bound of the
// published ranges, which touch, counts for the worse. Source: nausea.
func Nausea(said quantity.Amount) (Felt, error) {
	n, err := patient.Read("nausea", said, quantity.ScoreOne, "0", "10")
	if err != nil {
		return Felt{}, err
	}
	f := Felt{Degree: degree(n, 1, 4, 7), Cautions: []patient.Caution{AskAgain}, Sources: []patient.Source{nausea}}
	if n.Cmp(exact.Whole(4)) >= 0 {
		term.Add(&f.Cautions, RescueThreshold)
	}
	return f, nil
}

func degree(n *exact.Number, mild, moderate, severe int64) term.Degree {
	switch {
	case n.Cmp(exact.Whole(severe)) >= 0:
		return term.DegreeSevere
	case n.Cmp(exact.Whole(moderate)) >= 0:
		return term.DegreeModerate
	case n.Cmp(exact.Whole(mild)) >= 0:
		return term.DegreeMild
	}
	return term.DegreeNone
}

// Legs is what a motor block of the legs means.
type Legs struct {
	Score    patient.Answer // 0 to 3 {score}; 0 moves all
	Cautions []patient.Caution
}

var (
	bromage  = patient.Source{Author: "P. R. Bromage", Title: "A comparison of the hydrochloride and carbon dioxide salts of lidocaine and prilocaine in epidural analgesia, Acta Anaesthesiologica Scandinavica Supplement 16:55", Year: 1965, Table: "modified, 0 to 3: moves all; bends the knees and moves the feet; moves the feet; moves nothing", Via: "copies that agree", Mark: term.MarkRead}
	walking  = patient.Source{Title: "muscle power and walking after spinal anaesthesia, Anesthesia and Analgesia 116:312", Year: 2013, Table: "at a score of 0 only 6 of 20 could walk alone", Via: "the abstract", Mark: term.MarkRead}
	cordTime = patient.Source{Author: "Association of Anaesthetists, Obstetric Anaesthetists' Association", Title: "Neurological monitoring associated with obstetric neuraxial block, Anaesthesia 75:913", Year: 2020, Table: "no straight leg raised at 4 h after the last dose: somebody who knows comes and looks", Mark: term.MarkMemory}
)

// Bromage says what a motor block means, and how long after the last dose a
// block that is still there is one to look into: 4 h. The time may be absent.
// Sources: bromage, walking, cordTime.
func Bromage(m term.Motor, since quantity.Amount) (Legs, error) {
	if m == "" {
		return Legs{}, &patient.Error{Field: "motor", Code: patient.Missing}
	}
	n := term.MotorList.Index(m)
	if n < 0 {
		return Legs{}, &patient.Error{Field: "motor", Code: patient.UnknownCode, Given: string(m)}
	}
	l := Legs{
		Score:    patient.Answer{Rule: "motor-block", Value: points(n), Sources: []patient.Source{bromage}},
		Cautions: []patient.Caution{ScalesDiffer},
	}
	if n == 0 {
		term.Add(&l.Cautions, NotYetWalking)
		l.Score.Sources = append(l.Score.Sources, walking)
	}
	if since.IsZero() {
		return l, nil
	}
	h, err := patient.Read("since", since, quantity.Hour, "0", "72")
	if err != nil {
		return Legs{}, err
	}
	if n > 0 && h.Cmp(exact.Whole(4)) >= 0 {
		term.Add(&l.Cautions, LookForCord, patient.ConfirmLocally)
		l.Score.Sources = append(l.Score.Sources, cordTime)
	}
	return l, nil
}
