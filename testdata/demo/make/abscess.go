package main

import (
	"time"

	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

// abscess tells of a girl of 6 years with an abscess of the thigh, under
// ketamine into the muscle.
func abscess(table, other *phone) {
	c := &teller{phone: table, day: day(10), about: demo.Abscess, author: demo.Provider}
	c.at("10:50").patient(child, "Pelli Wesandu", "0413", term.SexFemale, term.UrgencyUrgent)
	c.at("10:52").say(
		&timeline.Facts{Age: amount("6 a"), Sex: term.SexFemale, Weight: amount("18.0 kg"), WeightHow: term.WeightHowMeasured, WeightBy: term.WeightByScale},
		&timeline.Facts{ASA: term.ASA2, Mallampati: term.Mallampati1, Neck: term.NeckFree, Teeth: term.TeethLoose},
		&timeline.Facts{Allergies: []term.Allergy{term.AllergyNoneKnown}, Consent: term.ConsentByParent, Side: term.SideLeft, SideMarked: timeline.Yes},
		&timeline.Facts{Length: amount("114 cm")},
		&timeline.Facts{Haemoglobin: amount("10.4 g/dL")},
	)
	c.note("A milk tooth below in front is about to come out. Hot for three days.")
	c.late("06:15", &timeline.Intake{What: term.IntakeLightMeal})
	c.late("08:30", &timeline.Intake{What: term.IntakeClearFluid})
	c.at("10:56").say(&timeline.Baseline{Measures: func() timeline.Measures {
		m := look{"", 96, 58, 118, 98, 24}.measures()
		m.Temperature = amount("38.4 Cel")
		return m
	}()})
	c.record(timeline.Draft{Payload: &timeline.Plan{
		Techniques: []term.Technique{term.TechniqueKetamine}, Airway: term.AirwayDeviceFaceMask, Position: term.PositionSupine, Operation: term.OperationAbscess,
		Drugs: []string{"ketamine", "atropine"}, Steps: []term.Step{term.StepSkinPrep, term.StepKnife, term.StepAbscessOpen, term.StepPacking, term.StepDressing}, LossAllowed: amount("120 mL"),
	}, Private: timeline.Private{timeline.PrivateText: "Opening of an abscess of the left thigh"}})
	c.at("11:02").check(map[string]timeline.KitItem{"oximeter": {State: term.KitStateGood}}, "mask-frame", "gauze", "dropper", "agent", "face-cover", "no-spark", "mouth-gag")
	c.say(&timeline.Unwatched{Monitor: term.MonitorPressure, Because: term.BecauseNotHere}) // the small cuff is in the other house

	c.at("11:10").say(phase(term.PhasePatientIn))
	c.look(look{"11:12", 0, 0, 122, 98, 24})
	// Ketamine 6-8 mg/kg IM: World Health Organization, Surgical Care at the
	// District Hospital, 2003, 14.1C; 7 mg/kg of 18 kg are 126 mg. Atropine
	// 10-20 micrograms/kg IM: summary of product characteristics; 20 are 0.36 mg.
	c.at("11:15").say(phase(term.PhaseAnaesthesiaStart),
		&timeline.Drug{Drug: "atropine", Dose: amount("0.36 mg"), Route: term.RouteIm, Strength: amount("0.6 mg/mL"), Volume: amount("0.6 mL")},
		&timeline.Drug{Drug: "ketamine", Dose: amount("125 mg"), Route: term.RouteIm, Strength: amount("50 mg/mL"), Volume: amount("2.5 mL")},
		support(term.SupportSpontaneous))
	c.at("11:17").say(&timeline.Signs{Eyes: term.EyesRoving, Breathing: term.BreathingQuiet, Lid: term.ReflexBrisk})
	c.at("11:18").say(oxygen("2 L/min"))
	c.at("11:19").say(phase(term.PhaseUnconscious), &timeline.Airway{Device: term.AirwayDeviceFaceMask, Act: term.AirwayActTended, Needed: []term.AirwayNeed{term.AirwayNeedChinLift}})
	c.look(look{"11:20", 0, 0, 136, 98, 22})
	c.at("11:21").say(&timeline.Position{Position: term.PositionSupine, EyesCovered: true, Padded: true})
	c.say(&timeline.Signs{Eyes: term.EyesStillCentral, Lid: term.ReflexBrisk, Jaw: term.JawEasing, Movement: term.MovementNone, Secretion: term.SecretionSome})
	// The cuff has come.
	c.look(look{"11:23", 108, 66, 138, 98, 22})
	c.at("11:24").say(step(term.StepSkinPrep), phase(term.PhaseReadyForSurgery))
	c.look(look{"11:25", 110, 68, 138, 98, 22})
	c.at("11:26").say(in(term.FluidInCompoundLactate, "50 mL"))
	c.at("11:27").say(phase(term.PhaseKnifeToSkin), step(term.StepKnife), step(term.StepAbscessOpen))
	pus := c.say(out(term.FluidOutOther, "80 mL", term.MeasuredGuessed))
	c.look(look{"11:30", 114, 70, 142, 98, 24})
	c.at("11:31").say(&timeline.Signs{Movement: term.MovementLimbs, Eyes: term.EyesRoving, Tears: term.TearsWet})
	given := c.say(&timeline.Mark{}) // no hand free: what was given is named at 11:36
	c.at("11:32").say(&timeline.Signs{Breathing: term.BreathingNoisy, Secretion: term.SecretionMuch, Colour: term.ColourPink})
	c.say(&timeline.Trouble{Trouble: term.TroubleLaryngospasm, Act: term.TroubleActBegun})
	c.say(&timeline.Trouble{Trouble: term.TroubleLaryngospasm, Act: term.TroubleActStep, Step: "stop-stimulus"},
		&timeline.Trouble{Trouble: term.TroubleLaryngospasm, Act: term.TroubleActStep, Step: "jaw-thrust"},
		&timeline.Trouble{Trouble: term.TroubleLaryngospasm, Act: term.TroubleActStep, Step: "oxygen"})
	c.say(oxygen("8 L/min"), support(term.SupportAssisted))
	c.say(&timeline.Airway{Device: term.AirwayDeviceFaceMask, Act: term.AirwayActTended, Needed: []term.AirwayNeed{term.AirwayNeedJawThrust, term.AirwayNeedSuction, term.AirwayNeedTwoHands}})
	c.look(look{"11:33", 0, 0, 150, 91, 0})
	c.at("11:34").say(&timeline.Trouble{Trouble: term.TroubleLaryngospasm, Act: term.TroubleActOver}, support(term.SupportSpontaneous))
	c.look(look{"11:35", 116, 72, 144, 97, 26})
	// A first dose of ketamine IV is 1-2 mg/kg: British National Formulary for
	// Children 2011-12, page 631. To keep up half of it or less: from memory;
	// 10 mg are 0.56 mg/kg. The mark becomes the drug, at its own time.
	c.at("11:36").correct(given, &timeline.Drug{Drug: "ketamine", Dose: amount("10 mg"), Route: term.RouteIv, Strength: amount("10 mg/mL"), Volume: amount("1 mL")}, term.ReasonNamedLater)
	c.at("11:37").say(step(term.StepPacking), oxygen("3 L/min"))
	c.at("11:38").say(&timeline.Signs{Eyes: term.EyesStillCentral, Breathing: term.BreathingQuiet, Movement: term.MovementNone, Secretion: term.SecretionSome, Colour: term.ColourPink})
	// Measured afterwards in the bowl.
	c.correct(pus, out(term.FluidOutOther, "120 mL", term.MeasuredMeasured), term.ReasonLearnedLater)
	c.look(look{"11:40", 112, 68, 138, 98, 24})
	done := c.at("11:41").say(step(term.StepDressing))
	strike := c.correct(done, &timeline.Struck{}, term.ReasonTappedByMistake)
	c.at("11:43").say(out(term.FluidOutBlood, "15 mL", term.MeasuredGuessed))
	c.look(look{"11:45", 110, 66, 134, 98, 24})
	// The dressing had been right all along.
	c.correct(done, &timeline.Restored{}, term.ReasonRedone, strike)
	c.at("11:46").say(phase(term.PhaseSurgeryEnd))
	// Paracetamol 15 mg/kg by mouth or rectum: from memory; 18 kg give 270 mg,
	// and the suppository has 250.
	c.at("11:47").say(drug("paracetamol", "250 mg", term.RouteRectal))
	// Ampicillin 50 mg/kg: common practice, no source; 18 kg give 900 mg.
	c.say(drug("ampicillin", "900 mg", term.RouteIv))
	c.look(look{"11:50", 106, 64, 130, 98, 22})
	c.at("11:51").say(phase(term.PhaseAnaesthesiaEnd), &timeline.Position{Position: term.PositionLeftSide, Padded: true}, waking(0, 2, 1, 0, 1))
	c.look(look{"11:55", 104, 62, 128, 98, 22})
	c.at("11:57").say(in(term.FluidInCompoundLactate, "150 mL"))
	c.look(look{"12:00", 102, 62, 126, 98, 22})

	// A look at the man with the hernia, who lies in the next bed, is tapped
	// with the child still on the screen, and moved to where it belongs.
	stray := c.at("12:03").say(&timeline.Vitals{Measures: look{"", 120, 76, 78, 97, 15}.measures()})
	c.at("12:04").record(timeline.Draft{About: demo.Hernia, Payload: &timeline.Moved{From: demo.Abscess}, At: stray.Event.At,
		Amends: stray.Event.ID, Replaces: []string{stray.Event.ID}, Reason: term.ReasonWrongPatient})

	other.sees(table)
	a := &teller{phone: other, day: c.day, about: c.about, author: demo.Assistant}
	a.at("12:05").say(&timeline.Vitals{Measures: look{"", 102, 62, 124, 97, 22}.measures()})
	a.at("12:06").say(&timeline.Signs{Eyes: term.EyesRoving, Lid: term.ReflexBrisk, Breathing: term.BreathingQuiet}, waking(1, 2, 1, 0, 1))
	a.look(look{"12:10", 100, 60, 122, 97, 22})
	// Twice entered: the assistant writes down what the table had at 12:00.
	twice := a.at("12:11").late("12:00", &timeline.Vitals{Measures: look{"", 102, 62, 126, 98, 22}.measures()})
	a.correct(twice, &timeline.Struck{}, term.ReasonEnteredTwice)
	a.at("12:14").say(&timeline.Trouble{Trouble: term.TroubleWildWaking, Act: term.TroubleActBegun})
	a.note("Cries out, does not know her mother yet. Light dimmed, mother holds her.")
	a.look(look{"12:15", 108, 66, 134, 97, 26})
	a.look(look{"12:20", 104, 62, 126, 97, 24})
	a.at("12:21").say(waking(1, 2, 2, 1, 1), oxygen("0 L/min"), &timeline.Trouble{Trouble: term.TroubleWildWaking, Act: term.TroubleActOver})
	a.look(look{"12:25", 100, 60, 120, 96, 22})
	a.look(look{"12:30", 98, 60, 118, 97, 22})
	a.at("12:33").say(waking(2, 2, 2, 1, 2))
	a.at("12:45").say(&timeline.Vitals{Measures: look{"", 98, 58, 116, 97, 22}.measures(), LookedSame: true})
	a.at("12:50").say(waking(2, 2, 2, 2, 2), in(term.FluidInDrink, "80 mL"))
	a.look(look{"13:00", 98, 58, 114, 97, 22})
	a.at("13:05").say(phase(term.PhaseHandedOver), &timeline.Outcome{Outcome: term.OutcomeRecovered})
	table.sees(other)
	herniaEnds(table, other)
	c.at("14:07").say(&timeline.CaseClosed{})
	// A late entry after the case was closed.
	c.at("14:09").record(timeline.Draft{Payload: &timeline.Note{}, At: timeline.MomentOf(day(10).Add(11*time.Hour+33*time.Minute), "Etc/GMT-3"),
		Private: timeline.Private{timeline.PrivateText: "At 11:33 the throat was closed for half a minute; it opened with jaw thrust and oxygen alone."}})
}
