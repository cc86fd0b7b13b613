package record

import (
	"fmt"
	"strconv"
	"time"
)

// The case below is invented, person and all.

var eat = time.FixedZone("EAT", 3*3600)

// at is minutes after ten o'clock on the day of the invented case.
func at(minutes int) time.Time {
	return time.Date(2031, 3, 4, 10, 0, 0, 0, eat).Add(time.Duration(minutes) * time.Minute)
}

var english = Words{
	Systolic: "systolic", Diastolic: "diastolic", Pulse: "pulse", Pressure: "mmHg, beats/min",
	Time: "time", Entry: "entry", By: "by", Entered: "entered", Late: "late", Was: "was", Struck: "struck out",
	Conflict: "two corrections stand against each other", Page: "page {n} of {m}",
	Empty: "nothing recorded yet", Open: "dose rule not confirmed here, or dose not judged", Lacking: "characters that this printer's font lacks",
	Summary: "Hernia repair under mask ether. Blood pressure 104 to 142 systolic, last 118 over 72; pulse 78 to 118, last 84; saturation never under 91.",
}

func mmHg(text string) Point {
	v, _ := strconv.ParseFloat(text, 64)
	return Point{Value: v, Text: text}
}

// hernia is a whole case with every way an entry can stand.
func hernia() *Sheet {
	s := &Sheet{
		Title: "Anaesthetic record", For: "Case 14-031 · T. Demo, 34 y, male, 52 kg (measured)", Case: "14-031",
		Facts: []Fact{
			{"Operation", "inguinal hernia repair, left"}, {"ASA class", "II"}, {"Weight", "52 kg, measured"},
			{"Last food", "18:30 the day before"}, {"Last clear drink", "06:00"}, {"Allergies", "none known"},
			{"Airway", "opens 3 fingers, Mallampati II, teeth own, one loose upper left"},
			{"Plan", "ether by open drop after atropine; oral airway; ketamine in reserve"}, {"Consent", "signed, thumb print, witnessed"},
		},
		Begin: at(0), Words: english,
		Notices: []string{
			"The weight of 52 kg was used for every dose suggestion.",
			"Two corrections of the pulse at 10:40 stand against each other; the later one is drawn.",
		},
		Foot: "Printed 2031-03-04 12:30 by M. Sample",
	}
	bp := [][3]int{{3, 128, 80}, {8, 130, 82}, {13, 142, 88}, {18, 138, 86}, {23, 126, 78}, {28, 118, 74},
		{33, 112, 70}, {38, 108, 66}, {43, 104, 62}, {48, 108, 66}, {53, 112, 68}, {58, 114, 70}, {63, 118, 72},
		{68, 116, 72}, {73, 118, 72}}
	for i, v := range bp {
		p := Pair{At: at(v[0]), Systolic: mmHg(strconv.Itoa(v[1])), Diastolic: mmHg(strconv.Itoa(v[2])), ID: fmt.Sprintf("bp%d", i)}
		switch v[0] {
		case 28:
			p.Systolic.Was, p.Standing = []string{"181"}, Amended
		case 48:
			p.Standing = Struck
		case 58:
			p.Diastolic = Point{}
		}
		s.Pressure = append(s.Pressure, p)
	}
	for i, v := range [][2]int{{3, 84}, {8, 88}, {13, 118}, {18, 112}, {23, 104}, {28, 98}, {33, 92}, {40, 88}, {43, 84},
		{48, 80}, {53, 78}, {58, 80}, {63, 82}, {68, 84}, {73, 84}} {
		p := Point{At: at(v[0]), Value: float64(v[1]), Text: strconv.Itoa(v[1]), ID: fmt.Sprintf("p%d", i)}
		switch v[0] {
		case 40:
			p.Standing, p.Was = Disputed, []string{"58"}
		case 53:
			p.Standing, p.Was = Amended, []string{"128"}
		}
		s.Pulse = append(s.Pulse, p)
	}
	row := func(label, id string, vs ...[2]int) {
		r := Row{Label: label}
		for i, v := range vs {
			r.Points = append(r.Points, Point{At: at(v[0]), Value: float64(v[1]), Text: strconv.Itoa(v[1]), ID: fmt.Sprintf("%s%d", id, i)})
		}
		s.Numbers = append(s.Numbers, r)
	}
	row("SpO₂ %", "s", [2]int{3, 97}, [2]int{8, 98}, [2]int{13, 96}, [2]int{16, 91}, [2]int{18, 94}, [2]int{23, 97},
		[2]int{28, 97}, [2]int{33, 98}, [2]int{38, 98}, [2]int{43, 98}, [2]int{48, 97}, [2]int{53, 98}, [2]int{58, 98},
		[2]int{63, 98}, [2]int{68, 97}, [2]int{73, 97})
	s.Numbers[0].Points[8].Was, s.Numbers[0].Points[8].Standing = []string{"89"}, Amended
	row("breaths", "b", [2]int{3, 16}, [2]int{13, 28}, [2]int{18, 30}, [2]int{23, 26}, [2]int{33, 24}, [2]int{43, 22},
		[2]int{53, 22}, [2]int{63, 20}, [2]int{73, 18})
	s.Numbers[1].Points[5].Standing = Struck
	row("temp °C", "t", [2]int{28, 36}, [2]int{63, 35})
	s.Bands = []Band{
		{"ether", []Span{
			{at(9), at(12), 0.15, "12 drops/min", Stands, "e1"}, {at(12), at(16), 0.4, "40 drops/min", Stands, "e2"},
			{at(16), at(36), 0.9, "120 drops/min", Stands, "e3"}, {at(36), at(62), 0.5, "60 drops/min", Amended, "e4"},
			{at(62), at(70), 0.2, "20 drops/min", Stands, "e5"}, {at(70), time.Time{}, 0, "off", Stands, "e6"},
		}},
		{"oxygen", []Span{{at(5), at(15), 0.3, "1 L/min", Stands, "o1"}, {at(15), at(20), 0.9, "4 L/min", Stands, "o2"},
			{at(20), time.Time{}, 0.4, "2 L/min", Stands, "o3"}}},
		{"breathing", []Span{{at(3), at(15), 0.6, "spontaneous", Stands, "v1"}, {at(15), at(17), 1, "obstructed", Stands, "v2"},
			{at(17), time.Time{}, 0.6, "spontaneous", Stands, "v3"}}},
	}
	s.Course = course()
	mark := func(minute int, kind MarkKind, text string) *Mark {
		s.Marks = append(s.Marks, Mark{At: at(minute), Kind: kind, Text: text, ID: fmt.Sprintf("m%d", len(s.Marks))})
		return &s.Marks[len(s.Marks)-1]
	}
	mark(2, PhaseMark, "patient in")
	mark(9, PhaseMark, "start of anaesthesia")
	mark(17, PhaseMark, "unconscious")
	mark(29, PhaseMark, "knife to skin")
	mark(60, PhaseMark, "closing")
	mark(70, PhaseMark, "end of surgery")
	*mark(4, DrugMark, "atropine 0.6 mg IM") = Mark{At: at(4), Kind: DrugMark, Text: "atropine 0.6 mg IM", Late: true, ID: "m6"}
	m := mark(24, DrugMark, "morphine 4 mg IV")
	m.Was, m.Standing = []string{"morphine 40 mg IV"}, Amended
	mark(45, DrugMark, "paracetamol 1 g rectal").Open = "its dose rule was confirmed by nobody here"
	mark(20, DrugMark, "Ringer's lactate 500 mL")
	m = mark(50, DrugMark, "ketamine 25 mg IV")
	m.Standing = Struck
	mark(1, StepMark, "supine, arms padded")
	mark(31, StepMark, "sac opened")
	mark(52, StepMark, "repair done")
	mark(13, SignMark, "excited, breath held")
	mark(19, SignMark, "oral airway 3")
	mark(22, SignMark, "eyes fixed, pupils small")
	mark(34, SignMark, "breathing regular, automatic")
	mark(56, SignMark, "eyes moist")
	m = mark(71, SignMark, "swallows")
	m.Standing = Disputed
	mark(15, TroubleMark, "laryngospasm: jaw thrust, oxygen 100 %")
	mark(39, TroubleMark, "marked, not yet named")

	entry := func(minute int, text string) *Entry {
		s.Entries = append(s.Entries, Entry{At: at(minute), Text: text, By: "M. Sample",
			Entered: at(minute).Add(25 * time.Second), ID: fmt.Sprintf("x%d", len(s.Entries))})
		return &s.Entries[len(s.Entries)-1]
	}
	entry(1, "position: supine, arms padded")
	entry(2, "phase: patient in")
	entry(3, "blood pressure 128/80 mmHg; pulse 84/min; SpO₂ 97 %; breathing 16/min")
	e := entry(4, "atropine 0.6 mg into a muscle")
	e.Late, e.Entered = true, at(41)
	entry(9, "phase: start of anaesthesia")
	entry(9, "ether by open drop, 12 drops/min, cover on")
	entry(13, "breathing: excited, breath held")
	entry(15, "laryngospasm: jaw thrust, oxygen 100 %")
	e = entry(24, "morphine 4 mg into a vein")
	e.Standing = Amended
	e.History = []Change{{At: at(24), Text: "morphine 40 mg into a vein", By: "M. Sample", Entered: at(24).Add(20 * time.Second), Reason: "slip of the finger; the syringe held 10 mg"}}
	e = entry(28, "blood pressure 118/74 mmHg; pulse 98/min")
	e.Standing = Amended
	e.History = []Change{{At: at(27), Text: "blood pressure 181/74 mmHg; pulse 98/min", By: "M. Sample", Entered: at(28).Add(time.Minute), Reason: "figures turned round"}}
	e = entry(40, "pulse 88/min")
	e.Standing = Disputed
	e.History = []Change{
		{At: at(40), Text: "pulse 58/min", By: "M. Sample", Entered: at(40).Add(10 * time.Second), Reason: "counted again"},
		{At: at(40), Text: "pulse 85/min", By: "K. Example", Entered: at(42), Reason: "read from the second device"}}
	e = entry(48, "blood pressure 108/66 mmHg; pulse 80/min")
	e.Standing = Struck
	e.History = []Change{{At: at(48), Text: "blood pressure 108/66 mmHg; pulse 80/min", By: "M. Sample", Entered: at(49), Reason: "cuff was on the other patient"}}
	entry(71, "note: the patient's father asks for the fluoridated-hydroxyethyl-very-long-name-that-never-breaks-0123456789-0123456789-0123456789 to be explained")
	e = entry(73, "blood pressure 118/72 mmHg; pulse 84/min; SpO₂ 97 %; breathing 18/min")
	e.By = "K. Example"
	return s
}

// course is an estimate with a stretch without one, and a look at a danger.
func course() *Course {
	c := &Course{Label: "depth, MAC", Under: 1, Top: 2.5, Line: 1, Body: "depth, 8 of 10 simulated bodies", Shown: "as shown", Sign: "by the signs", Gap: "no estimate"}
	point := func(minute int, low, high float64) {
		c.Points = append(c.Points, CoursePoint{At: at(minute), Low: low, High: high, Text: "shown to be sure of nothing", ID: fmt.Sprintf("d%d", minute/20)})
	}
	c.Points = append(c.Points, CoursePoint{At: at(9), Gap: "none yet", Text: "No sign was recorded yet.", ID: "d0"})
	for m := 16; m <= 36; m += 2 {
		x := float64(m-16) / 20
		point(m, 0.5+0.5*x, 1.3+0.4*x)
	}
	c.Points[len(c.Points)-1].Shown = true
	c.Points = append(c.Points, CoursePoint{At: at(38), Gap: "old", Text: "The last signs are over 5 minutes old.", ID: "d2"})
	for m := 50; m <= 58; m += 2 {
		point(m, 0.9, 1.6)
	}
	c.Points[len(c.Points)-1].Shown = true
	c.Signs = []CourseSign{{At: at(22), Low: 0.67, High: 1.18, Text: "eyes roving: stage II to plane 1", ID: "s1"},
		{At: at(34), Low: 0.95, High: 1.62, Text: "breathing regular", ID: "s2"}, {At: at(52), Low: 1.62, High: 3, Danger: true, Text: "pupils wide and fixed", ID: "s3"}}
	return c
}
