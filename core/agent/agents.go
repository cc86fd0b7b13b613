package agent

import (
	"slices"

	"chinlift/core/term"
)

// Agent is what is known about one inhaled anaesthetic.
type Agent struct {
	Code       term.Agent
	Historical bool // no longer given; kept for old records and for comparison
	Gas        bool // comes as a gas, not as a liquid

	MolarMassGPerMol Number
	DensityGPerML    Number // of the liquid at 20 °C
	BoilingCelsius   Number // at 760 mmHg, as published; BoilingPoint reckons it
	VapourMmHg20     Number // saturated at 20 °C, as published; SaturatedMmHg reckons it
	Antoine          Antoine

	MAC40Percent       Number // MAC at 40 years, per cent of one atmosphere
	InMAC40            bool   // was among the agents that the rule of age was made from
	AwakePerMAC        Number // tension at waking, as a part of MAC
	MetabolisedPercent Number // of what was taken up
	LiverExtraction    Number // part of what the blood brings to the liver that is metabolised there

	Solubility Solubility
	Fire       Fire
	Cautions   []Caution
}

// Antoine is log10 P = A - B / (t + C), P in mmHg, t in °C.
type Antoine struct {
	A, B, C float64
	Source  Source
}

// Solubility is a set of partition coefficients at 37 °C. BloodGas is blood to
// gas, the others are tissue to blood.
type Solubility struct {
	BloodGas, Brain, Heart, Kidney, Liver, Muscle, Fat Number
	VesselPoor                                         Number // bone and cartilage
}

// Complete reports whether every coefficient is known, so that a model can be
// made of it.
func (s Solubility) Complete() bool {
	for _, n := range []Number{s.BloodGas, s.Brain, s.Heart, s.Kidney, s.Liver, s.Muscle, s.Fat, s.VesselPoor} {
		if !n.Known() {
			return false
		}
	}
	return true
}

// Fire says how an agent burns. Absent numbers are not known, not harmless.
type Fire struct {
	Burns     bool // explodes in air at the concentrations given
	FeedsFire bool // supports burning as oxygen does

	AirLowPercent, AirHighPercent       Number // limits in air
	OxygenLowPercent, OxygenHighPercent Number // limits in oxygen
	FlashCelsius                        Number
	IgnitionCelsius                     Number // takes fire by itself, in air
}

// The sources of the table. Where one source gave several numbers its Table says
// which.
var (
	mapleson = Source{Author: "W. W. Mapleson", Title: "Effect of age on MAC in humans: a meta-analysis, Br J Anaesth 76:179", Year: 1996, Table: "MAC at 40 years and b = -0.00269 (95 % limits -0.0030, -0.0024)", Via: "its abstract", Mark: term.MarkRead}
	saidman  = Source{Author: "L. J. Saidman, E. I. Eger and others", Title: "Minimum alveolar concentrations of methoxyflurane, halothane, ether and cyclopropane in man, Anesthesiology 28:994", Year: 1967, Table: "ether 1.92 %", Via: "a teaching page on ether that repeats it", Mark: term.MarkRead}
	saidman2 = Source{Author: "L. J. Saidman, E. I. Eger and others", Title: "Minimum alveolar concentrations of methoxyflurane, halothane, ether and cyclopropane in man, Anesthesiology 28:994", Year: 1967, Table: "methoxyflurane 0.16 %", Mark: term.MarkMemory}
	oldMAC   = Source{Title: "MAC of an agent of the past, as textbooks estimate it", Mark: term.MarkMemory}

	physics  = Source{Title: "Inhalational anaesthetics: molar mass, boiling point, vapour pressure", Table: "table of a teaching page", Mark: term.MarkRead}
	etherBox = Source{Title: "ether: boiling point 35 °C, 58.6 kPa at 20 °C, flash point -45 °C, takes fire at 160-180 °C, explosive from 1.7 to 48 % in air, vapour 2.6 times as heavy as air", Table: "page on ether of a teaching site", Mark: term.MarkRead}
	handbook = Source{Title: "physical constants of liquids, as in chemical handbooks and product labels", Mark: term.MarkMemory}

	etherOx = Source{Title: "limits of explosion of ether in oxygen, as in fire codes for operating rooms", Mark: term.MarkMemory}

	antoineEther  = Source{Title: "constants for diethyl ether, as in chemical handbooks", Table: "gives the published boiling point and the pressure at 20 °C", Mark: term.MarkMemory}
	antoineHal    = Source{Author: "R. C. Rodgers, G. E. Hill", Title: "Equations for vapour pressure versus temperature, Br J Anaesth 50:415, after Bottomley and Seiflow 1963", Year: 1978, Table: "halothane; the abstract was read, the constants were not", Mark: term.MarkMemory}
	antoineLabel  = Source{Title: "United States product label: vapour pressure equation", Table: "gives the published boiling point and the pressure at 20 °C", Mark: term.MarkMemory}
	antoineDes    = Source{Author: "derived", Title: "through 669 mmHg at 20 °C and 798 mmHg at 24 °C", Table: "desflurane", Mark: term.MarkPractice}
	antoineMeth   = Source{Author: "derived", Title: "through 22.5 mmHg at 20 °C and the boiling point, 104.8 °C", Table: "methoxyflurane", Mark: term.MarkPractice}
	antoineSolven = Source{Title: "constants of a solvent, as in chemical handbooks", Table: "gives the published boiling point and the pressure at 20 °C", Mark: term.MarkMemory}

	yasudaBrain  = Source{Author: "N. Yasuda and others", Title: "Solubility of I-653, sevoflurane, isoflurane, and halothane in human tissues, Anesth Analg 69:370", Year: 1989, Table: "brain/blood, mean and standard deviation", Via: "its abstract", Mark: term.MarkRead}
	yasudaTissue = Source{Author: "N. Yasuda and others", Title: "Solubility of I-653, sevoflurane, isoflurane, and halothane in human tissues, Anesth Analg 69:370", Year: 1989, Table: "heart, liver, kidney, muscle, fat / blood; muscle and fat agree with a republished table within 5 %", Mark: term.MarkMemory}
	textTable    = Source{Author: "R. K. Stoelting, R. D. Miller", Title: "Basics of Anesthesia, inhaled anesthetics", Table: "blood/gas, brain/blood, muscle/blood, fat/blood", Via: "a course page with the table", Mark: term.MarkRead}
	otherTissue  = Source{Title: "tissue/blood coefficient as textbooks of uptake give it", Mark: term.MarkMemory}
	etherBlood   = Source{Title: "ether blood/gas 12.0-12.1", Table: "another teaching page has 15.2", Via: "teaching pages on ether", Mark: term.MarkRead}
	etherTissue  = Source{Author: "A. Steward, P. R. Allott, A. L. Cowles, W. W. Mapleson; E. I. Eger", Title: "Solubility coefficients for inhaled anaesthetics for water, oil and biological media, Br J Anaesth 45:282; Anesthetic Uptake and Action", Year: 1973, Table: "ether; the least certain row", Mark: term.MarkMemory}
	vesselPoor   = Source{Author: "house choice", Title: "bone and cartilage as lean tissue; nobody measured it for all agents", Mark: term.MarkPractice}
	patients2015 = Source{Title: "Blood/gas partition coefficients of desflurane, sevoflurane and isoflurane in 120 adults, Anesth Analg 120:45", Year: 2015, Table: "isoflurane 1.45, sevoflurane 0.74, desflurane 0.57; the values taken here are the older, lower ones, and the span goes to these", Via: "its abstract", Mark: term.MarkRead}

	metabolised = Source{Title: "share of what is taken up that the body changes, as textbooks give it", Mark: term.MarkMemory}
	sawyer      = Source{Author: "D. C. Sawyer and others", Title: "Concentration dependence of hepatic halothane metabolism, Anesthesiology 34:230", Year: 1971, Table: "0.05-0.15 at 0.5 % and over; more below 0.1 %, because it saturates", Mark: term.MarkMemory}

	stoelting = Source{Author: "R. K. Stoelting, D. E. Longnecker, E. I. Eger", Title: "Minimum alveolar concentrations in man on awakening from methoxyflurane, halothane, ether and fluroxene anesthesia: MAC awake, Anesthesiology 33:5", Year: 1970, Table: "ether 0.67, methoxyflurane 0.52, halothane 0.52", Via: "Gaumann and others, Br J Anaesth 1992;68:81, which quotes it", Mark: term.MarkRead}
	gaumann   = Source{Author: "D. M. Gaumann, J. P. Mustaki, E. Tassonyi", Title: "MAC-awake of isoflurane, enflurane and halothane evaluated by slow and fast alveolar washout, Br J Anaesth 68:81", Year: 1992, Table: "halothane 0.59 slow, 0.50 fast; enflurane 0.27, 0.20; isoflurane 0.25, 0.19", Via: "its abstract", Mark: term.MarkRead}
	goto2000  = Source{Author: "T. Goto and others", Title: "Minimum alveolar concentration-awake of xenon alone and in combination with isoflurane or sevoflurane, Anesthesiology 93:1188", Year: 2000, Table: "isoflurane 0.35, sevoflurane 0.35, nitrous oxide 0.61; the British study of 1992 (Br J Anaesth 69:259) has 0.33", Via: "its abstract", Mark: term.MarkRead}
	awakeDes  = Source{Title: "Inhalational anaesthetics", Table: "desflurane 0.34, table of a teaching page", Mark: term.MarkRead}
)

func n(v float64, s Source) Number              { return Number{Value: v, Source: s} }
func span(v, lo, hi float64, s Source) Number   { return Number{v, lo, hi, s} }
func brain(v, sd float64, source Source) Number { return Number{v, v - sd, v + sd, source} }

var agents = []Agent{
	{
		Code: term.AgentEther, MolarMassGPerMol: n(74.12, physics), DensityGPerML: n(0.7134, handbook),
		BoilingCelsius: span(34.6, 34.6, 35, etherBox), VapourMmHg20: span(440, 425, 442, etherBox),
		Antoine:      Antoine{6.92032, 1064.066, 228.799, antoineEther},
		MAC40Percent: n(1.92, saidman), AwakePerMAC: n(0.67, stoelting), MetabolisedPercent: n(4, metabolised),
		Solubility: Solubility{
			BloodGas: span(12.1, 12.0, 15.2, etherBlood), Brain: n(1.14, etherTissue), Heart: n(1.0, etherTissue), Kidney: n(0.9, etherTissue),
			Liver: n(1.0, etherTissue), Muscle: n(1.0, etherTissue), Fat: span(5, 3.5, 5, etherTissue), VesselPoor: n(1.0, vesselPoor),
		},
		Fire: Fire{
			Burns: true, AirLowPercent: n(1.7, etherBox), AirHighPercent: n(48, etherBox),
			OxygenLowPercent: n(2, etherOx), OxygenHighPercent: n(82, etherOx),
			FlashCelsius: n(-45, etherBox), IgnitionCelsius: span(160, 160, 180, etherBox),
		},
		Cautions: []Caution{Explosive, VapourIsHeavy, OxygenMakesWorse, TriggerOfHeat},
	},
	{
		Code: term.AgentHalothane, MolarMassGPerMol: n(197.38, physics), DensityGPerML: n(1.868, handbook),
		BoilingCelsius: n(50.2, physics), VapourMmHg20: span(243, 243, 244, physics),
		Antoine:      Antoine{6.8502, 1082.495, 222.44, antoineHal},
		MAC40Percent: span(0.75, 0.70, 0.80, mapleson), InMAC40: true, AwakePerMAC: span(0.55, 0.50, 0.59, gaumann),
		MetabolisedPercent: span(20, 15, 46, metabolised), LiverExtraction: span(0.10, 0.05, 0.15, sawyer),
		Solubility: Solubility{
			BloodGas: span(2.54, 2.3, 2.54, textTable), Brain: brain(1.94, 0.17, yasudaBrain), Heart: n(1.84, yasudaTissue), Kidney: n(1.16, yasudaTissue),
			Liver: n(2.07, yasudaTissue), Muscle: n(3.38, yasudaTissue), Fat: n(51.1, yasudaTissue), VesselPoor: n(2.0, vesselPoor),
		},
		Cautions: []Caution{LiverInjury, HeartRhythm, TriggerOfHeat},
	},
	{
		Code: term.AgentIsoflurane, MolarMassGPerMol: n(184.49, physics), DensityGPerML: n(1.496, handbook),
		BoilingCelsius: n(48.5, physics), VapourMmHg20: span(238.7, 238, 240, physics),
		Antoine:      Antoine{8.056, 1664.58, 273.16, antoineLabel},
		MAC40Percent: span(1.17, 1.09, 1.25, mapleson), InMAC40: true, AwakePerMAC: span(0.35, 0.19, 0.41, goto2000), MetabolisedPercent: n(0.2, metabolised),
		Solubility: Solubility{
			BloodGas: span(1.46, 1.36, 1.46, textTable), Brain: brain(1.57, 0.10, yasudaBrain), Heart: n(1.57, yasudaTissue), Kidney: n(1.05, yasudaTissue),
			Liver: n(1.75, yasudaTissue), Muscle: n(2.92, yasudaTissue), Fat: n(44.9, yasudaTissue), VesselPoor: n(1.7, vesselPoor),
		},
		Cautions: []Caution{TriggerOfHeat},
	},
	{
		Code: term.AgentSevoflurane, MolarMassGPerMol: n(200.05, physics), DensityGPerML: n(1.520, handbook),
		BoilingCelsius: n(58.6, physics), VapourMmHg20: span(157, 157, 160, physics),
		Antoine:      Antoine{8.086, 1726.68, 273.16, antoineLabel},
		MAC40Percent: span(1.80, 1.67, 1.93, mapleson), InMAC40: true, AwakePerMAC: span(0.35, 0.29, 0.41, goto2000), MetabolisedPercent: span(3.5, 2, 5, metabolised),
		Solubility: Solubility{
			BloodGas: span(0.65, 0.65, 0.74, patients2015), Brain: brain(1.70, 0.09, yasudaBrain), Heart: n(1.69, yasudaTissue), Kidney: n(1.15, yasudaTissue),
			Liver: n(1.85, yasudaTissue), Muscle: n(3.13, yasudaTissue), Fat: n(47.5, yasudaTissue), VesselPoor: n(1.8, vesselPoor),
		},
		Cautions: []Caution{TriggerOfHeat},
	},
	{
		Code: term.AgentEnflurane, MolarMassGPerMol: n(184.49, physics), DensityGPerML: n(1.517, handbook),
		BoilingCelsius: n(56.5, physics), VapourMmHg20: span(174.5, 172, 174.5, physics),
		Antoine:      Antoine{7.967, 1678.4, 273.16, antoineLabel},
		MAC40Percent: span(1.63, 1.35, 1.91, mapleson), InMAC40: true, AwakePerMAC: span(0.30, 0.20, 0.31, gaumann), MetabolisedPercent: n(2.4, metabolised),
		Solubility: Solubility{
			BloodGas: n(1.90, textTable), Brain: span(1.4, 1.4, 1.5, textTable), Heart: n(1.3, otherTissue), Kidney: n(1.1, otherTissue),
			Liver: n(2.1, otherTissue), Muscle: n(1.7, textTable), Fat: n(36, textTable), VesselPoor: n(1.5, vesselPoor),
		},
		Cautions: []Caution{TriggerOfHeat},
	},
	{
		Code: term.AgentDesflurane, MolarMassGPerMol: n(168.04, physics), DensityGPerML: n(1.465, handbook),
		BoilingCelsius: span(22.8, 22.8, 23.5, physics), VapourMmHg20: n(669, physics),
		Antoine:      Antoine{8.5141, 1667.64, 273.15, antoineDes},
		MAC40Percent: span(6.6, 5.9, 7.3, mapleson), InMAC40: true, AwakePerMAC: n(0.34, awakeDes), MetabolisedPercent: n(0.02, metabolised),
		Solubility: Solubility{
			BloodGas: span(0.42, 0.42, 0.57, patients2015), Brain: brain(1.29, 0.05, yasudaBrain), Heart: n(1.29, yasudaTissue), Kidney: n(0.94, yasudaTissue),
			Liver: n(1.31, yasudaTissue), Muscle: n(2.02, yasudaTissue), Fat: n(27.2, yasudaTissue), VesselPoor: n(1.3, vesselPoor),
		},
		Cautions: []Caution{TriggerOfHeat},
	},
	{
		Code: term.AgentNitrousOxide, Gas: true, MolarMassGPerMol: n(44.01, physics), BoilingCelsius: n(-88.5, physics), VapourMmHg20: n(39000, handbook),
		MAC40Percent: span(104, 97, 111, mapleson), InMAC40: true, AwakePerMAC: span(0.62, 0.54, 0.68, goto2000), MetabolisedPercent: n(0.004, metabolised),
		Solubility: Solubility{
			BloodGas: span(0.47, 0.46, 0.47, textTable), Brain: n(1.1, textTable), Heart: n(0.87, otherTissue), Kidney: n(0.9, otherTissue),
			Liver: n(0.8, otherTissue), Muscle: n(1.2, textTable), Fat: n(2.3, textTable), VesselPoor: n(1.0, vesselPoor),
		},
		Fire:     Fire{FeedsFire: true},
		Cautions: []Caution{FeedsFire, NeedsOther},
	},
	{
		Code: term.AgentMethoxyflurane, Historical: true, MolarMassGPerMol: n(164.97, physics), DensityGPerML: n(1.42, handbook),
		BoilingCelsius: n(104.8, physics), VapourMmHg20: n(22.5, physics),
		Antoine:      Antoine{8.1652, 1997.24, 273.15, antoineMeth},
		MAC40Percent: n(0.16, saidman2), AwakePerMAC: n(0.52, stoelting), MetabolisedPercent: span(60, 50, 75, metabolised),
		Solubility: Solubility{
			BloodGas: span(15, 12, 15, otherTissue), Brain: n(1.4, otherTissue), Heart: n(1.2, otherTissue), Kidney: n(0.9, otherTissue),
			Liver: n(2.0, otherTissue), Muscle: n(1.6, otherTissue), Fat: span(49, 38, 49, otherTissue), VesselPoor: n(1.5, vesselPoor),
		},
		Cautions: []Caution{KidneyInjury, TriggerOfHeat},
	},
	{
		Code: term.AgentTrichloroethylene, Historical: true, MolarMassGPerMol: n(131.39, physics), DensityGPerML: n(1.464, handbook),
		BoilingCelsius: n(87, physics), VapourMmHg20: n(58.6, handbook),
		Antoine:      Antoine{7.02808, 1315.04, 230.0, antoineSolven},
		MAC40Percent: n(0.17, oldMAC), MetabolisedPercent: n(20, metabolised),
		Solubility: Solubility{BloodGas: n(9, otherTissue), Brain: n(1.6, otherTissue), Muscle: n(1.7, otherTissue), Fat: n(70, otherTissue)},
		Cautions:   []Caution{MACUncertain, NoSodaLime, HeartRhythm},
	},
	{
		Code: term.AgentChloroform, Historical: true, MolarMassGPerMol: n(119.38, physics), DensityGPerML: n(1.489, handbook),
		BoilingCelsius: n(61.2, physics), VapourMmHg20: span(158, 158, 160, physics),
		Antoine:      Antoine{6.95465, 1170.966, 226.232, antoineSolven},
		MAC40Percent: n(0.5, oldMAC), MetabolisedPercent: n(50, metabolised),
		Solubility: Solubility{BloodGas: span(9, 8, 10, otherTissue), Brain: n(1.6, otherTissue), Liver: n(1.6, otherTissue), Muscle: n(1.3, otherTissue), Fat: n(35, otherTissue)},
		Cautions:   []Caution{MACUncertain, LiverInjury, HeartRhythm},
	},
}

// Of gives what is known about an agent. The error is an *Error for "agent".
func Of(code term.Agent) (Agent, error) {
	i := slices.IndexFunc(agents, func(a Agent) bool { return a.Code == code })
	switch {
	case i >= 0:
		a := agents[i]
		a.Cautions = slices.Clone(a.Cautions)
		return a, nil
	case code == "":
		return Agent{}, &Error{Field: "agent", Code: Missing}
	}
	return Agent{}, &Error{Field: "agent", Code: UnknownCode, Given: string(code)}
}
