package main

import (
	"time"

	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

// caesarean tells of a mother of 27 years whose labour does not go on, under
// spinal, and of her child. The phone at the table was replaced the day before
// and its database restored: it writes a new log.
func caesarean(old, table, other *phone) {
	table.sees(old)
	last := old.lines[len(old.lines)-1]
	table.open(day(19).Add(20*time.Hour+5*time.Minute), timeline.LogOpened{Cause: term.LogCauseRestored, Cites: old.log, At: last.Event.Seq, Head: last.H})

	c := &teller{phone: table, day: day(20), about: demo.Caesarean, author: demo.Provider}
	c.at("01:20").patient(mother, "Ilva Noromei", "0428", term.SexFemale, term.UrgencyEmergency)
	c.at("01:22").say(
		&timeline.Facts{Age: amount("27 a"), Sex: term.SexFemale, Pregnant: timeline.Yes},
		&timeline.Facts{Weight: amount("66 kg"), WeightHow: term.WeightHowGuessed, WeightBy: term.WeightByRelativeSaid, Length: amount("158 cm")},
		&timeline.Facts{ASA: term.ASA2, Emergency: true, Mallampati: term.Mallampati2, Mouth: term.MouthOpeningThreeFingers, Neck: term.NeckFree, Teeth: term.TeethSound},
		&timeline.Facts{Allergies: []term.Allergy{term.AllergyNoneKnown}, Consent: term.ConsentByPatient, Side: term.SideMidline},
		&timeline.Facts{Haemoglobin: amount("10.9 g/dL")},
	)
	c.late("00:15", &timeline.Intake{What: term.IntakeClearFluid})
	c.record(timeline.Draft{Payload: &timeline.Intake{What: term.IntakeFullMeal}, At: timeline.MomentOf(day(19).Add(18*time.Hour), "Etc/GMT-3")})
	c.at("01:26").say(&timeline.Baseline{Measures: func() timeline.Measures {
		m := look{"", 126, 78, 92, 98, 18}.measures()
		m.Temperature = amount("37.2 Cel")
		return m
	}()})
	c.record(timeline.Draft{Payload: &timeline.Plan{
		Techniques: []term.Technique{term.TechniqueSpinal}, Position: term.PositionLeftTilt, Operation: term.OperationCaesarean,
		Drugs: []string{"bupivacaine-heavy", "ephedrine", "oxytocin"}, LossAllowed: amount("1000 mL"),
		Steps: []term.Step{term.StepSkinPrep, term.StepKnife, term.StepUterusOpen, term.StepDelivery, term.StepPlacentaOut, term.StepClosingDeep, term.StepClosingSkin, term.StepDressing},
	}, Private: timeline.Private{timeline.PrivateText: "Caesarean section; no progress for six hours"}})
	c.at("01:29").check(map[string]timeline.KitItem{"table-tilts": {State: term.KitStateFault, Answer: term.KitAnswerWithout}},
		"mask-frame", "gauze", "dropper", "agent", "face-cover", "mouth-gag", "no-spark")
	debt := c.say(&timeline.Owed{Act: term.OwedActOwed, For: term.OwedStopPassed})
	c.say(&timeline.Unwatched{Monitor: term.MonitorThermometer, Because: term.BecauseNoTime})

	c.at("01:36").say(phase(term.PhasePatientIn), in(term.FluidInCompoundLactate, "500 mL"))
	// Metoclopramide 10 mg IV: from memory. Cefazolin 2 g before the skin is cut:
	// common practice, no source.
	c.at("01:37").say(drug("metoclopramide", "10 mg", term.RouteIv), drug("cefazolin", "2 g", term.RouteIv))
	c.look(look{"01:38", 128, 80, 96, 98, 18})
	c.at("01:40").say(phase(term.PhaseAnaesthesiaStart), &timeline.Position{Position: term.PositionSitting}, support(term.SupportSpontaneous))
	// Lidocaine for the skin: far below the most, 3 mg/kg, from memory.
	c.say(drug("lidocaine", "20 mg", term.RouteInfiltration))
	// Heavy bupivacaine 10-12.5 mg, 2-2.5 mL of 5 mg/mL, for a caesarean: common
	// practice, no source.
	c.at("01:43").say(&timeline.Block{Block: term.BlockKindSpinal, Site: term.BlockSiteL34, Attempts: 2})
	c.say(&timeline.Drug{Drug: "bupivacaine-heavy", Dose: amount("11 mg"), Route: term.RouteIntrathecal, Strength: amount("5 mg/mL"), Volume: amount("2.2 mL"), Batch: "R-204"})
	c.at("01:44").say(&timeline.Position{Position: term.PositionLeftTilt, Padded: true}, oxygen("2 L/min"))
	c.look(look{"01:45", 118, 72, 98, 98, 18})
	c.at("01:46").say(&timeline.Block{Block: term.BlockKindSpinal, Height: term.BlockHeightT12, Motor: term.Motor1})
	c.look(look{"01:47", 104, 62, 104, 98, 18})
	c.at("01:48").say(&timeline.Block{Block: term.BlockKindSpinal, Height: term.BlockHeightT8, Motor: term.Motor2})
	c.look(look{"01:49", 86, 48, 112, 98, 20})
	c.say(&timeline.Trouble{Trouble: term.TroubleHypotension, Act: term.TroubleActBegun})
	// Ephedrine 3-6 mg IV, again after 3-4 minutes: from memory.
	first := c.say(drug("ephedrine", "6 mg", term.RouteIv))
	c.say(&timeline.Trouble{Trouble: term.TroubleHypotension, Act: term.TroubleActStep, Step: "fluid"}, in(term.FluidInCompoundLactate, "300 mL"))
	c.look(look{"01:51", 92, 54, 116, 98, 20})
	second := c.at("01:52").say(&timeline.Mark{})
	c.look(look{"01:53", 106, 62, 110, 98, 18})
	c.at("01:54").say(&timeline.Block{Block: term.BlockKindSpinal, Height: term.BlockHeightT4, Motor: term.Motor3})
	c.correct(second, drug("ephedrine", "6 mg", term.RouteIv), term.ReasonNamedLater)
	c.look(look{"01:55", 112, 66, 106, 99, 18})
	c.at("01:56").say(&timeline.Trouble{Trouble: term.TroubleHypotension, Act: term.TroubleActOver}, step(term.StepSkinPrep), phase(term.PhaseReadyForSurgery))
	c.look(look{"02:00", 114, 68, 102, 99, 18})
	c.at("02:01").say(phase(term.PhaseKnifeToSkin), step(term.StepKnife))
	c.at("02:04").say(step(term.StepPeritoneumOpen))
	c.look(look{"02:05", 116, 70, 100, 99, 18})
	c.at("02:06").say(step(term.StepUterusOpen))

	other.sees(table)
	a := &teller{phone: other, day: c.day, about: c.about, author: demo.Assistant}
	// The assistant's phone was started anew since.
	other.boot, other.booted = "boot-58ee", day(19).Add(6*time.Hour)
	c.at("02:08").say(step(term.StepDelivery))
	a.at("02:08").record(timeline.Draft{Scope: timeline.ScopeClinic, About: newborn, Payload: &timeline.Person{Roles: []term.Role{term.RolePatient, term.RoleNewborn}, Sex: term.SexMale, Mother: mother},
		Private: timeline.Private{timeline.PrivateName: "Child of Ilva Noromei"}})
	birth := a.say(&timeline.Birth{Newborn: newborn, Sex: term.SexMale, Apgar1: count(7), Cried: timeline.Yes})
	// Oxytocin 3-5 IU slowly IV, then 40 IU in 500 mL at 125 mL/h: from memory.
	c.at("02:09").say(&timeline.Drug{Drug: "oxytocin", Dose: amount("5 [IU]"), Route: term.RouteIv, Strength: amount("10 [IU]/mL"), Volume: amount("0.5 mL")})
	c.look(look{"02:10", 106, 62, 112, 99, 18})
	c.at("02:11").say(step(term.StepPlacentaOut))
	run := c.at("02:12").say(&timeline.Infusion{Act: term.InfusionActStarted, Drug: "oxytocin", Rate: amount("125 mL/h"), Strength: amount("0.08 [IU]/mL"), Route: term.RouteIv})
	a.at("02:13").correct(birth, &timeline.Birth{Newborn: newborn, Sex: term.SexMale, Apgar1: count(7), Apgar5: count(9), Cried: timeline.Yes}, term.ReasonLearnedLater)
	loss := a.at("02:14").say(out(term.FluidOutBlood, "350 mL", term.MeasuredGuessed))
	table.sees(other)
	c.look(look{"02:15", 104, 60, 108, 99, 18})
	// Again two corrections without sight of each other, and this time a third
	// that has seen both settles it.
	one := c.at("02:16").correct(loss, out(term.FluidOutBlood, "500 mL", term.MeasuredGuessed), term.ReasonMistyped)
	two := a.at("02:17").correct(loss, out(term.FluidOutBlood, "430 mL", term.MeasuredMeasured), term.ReasonLearnedLater)
	table.sees(other)
	other.sees(table)
	c.at("02:19").correct(loss, out(term.FluidOutBlood, "430 mL", term.MeasuredMeasured), term.ReasonLearnedLater, one, two)
	c.look(look{"02:20", 108, 62, 104, 99, 18})
	c.at("02:21").say(&timeline.Signs{Colour: term.ColourPink, Breathing: term.BreathingQuiet})
	c.at("02:22").say(in(term.FluidInCompoundLactate, "500 mL"), out(term.FluidOutUrine, "120 mL", term.MeasuredMeasured))
	c.look(look{"02:25", 112, 66, 98, 99, 18})
	c.at("02:26").say(step(term.StepBleedingStopped), &timeline.Block{Block: term.BlockKindSpinal, Height: term.BlockHeightT4, Motor: term.Motor3})
	// The first time 3 mL of 3 mg/mL were given, not 2.
	c.correct(first, drug("ephedrine", "9 mg", term.RouteIv), term.ReasonMistyped)
	c.at("02:28").say(phase(term.PhaseClosing), step(term.StepClosingDeep))
	c.look(look{"02:30", 112, 68, 94, 99, 18})
	c.look(look{"02:35", 114, 70, 92, 99, 17})
	c.at("02:36").say(step(term.StepClosingSkin))
	a.at("02:38").correct(birth, &timeline.Birth{Newborn: newborn, Sex: term.SexMale, Weight: amount("3050 g"), Apgar1: count(7), Apgar5: count(9), Cried: timeline.Yes},
		term.ReasonLearnedLater, headOf(other, birth))
	table.sees(other)
	c.look(look{"02:40", 116, 70, 90, 99, 17})
	c.at("02:41").say(step(term.StepDressing), phase(term.PhaseSurgeryEnd), phase(term.PhaseAnaesthesiaEnd), oxygen("0 L/min"))
	// Diclofenac 75 mg into the muscle: from memory.
	c.at("02:43").say(drug("diclofenac", "75 mg", term.RouteIm), &timeline.Position{Position: term.PositionSupine, Padded: true})
	c.look(look{"02:45", 116, 72, 88, 98, 16})
	c.at("02:46").record(timeline.Draft{Payload: &timeline.Owed{Act: term.OwedActGiven, For: term.OwedStopPassed, Debt: debt.Event.ID},
		Private: timeline.Private{timeline.PrivateText: "The table does not tilt; the child's heart slowed and we could not wait. A wedge lay under the right hip."}})
	c.at("02:50").say(waking(0, 2, 2, 2, 2))
	c.look(look{"02:51", 116, 72, 86, 98, 16})

	// Somebody sets the phone's clock, 47 minutes back; it is noticed ten
	// minutes later. What was entered meanwhile stands at the wrong time until
	// it is corrected.
	table.skew = -47 * time.Minute
	wrong := []*timeline.Line{
		c.look(look{"02:56", 114, 72, 86, 98, 16}),
		c.at("02:58").say(&timeline.Block{Block: term.BlockKindSpinal, Height: term.BlockHeightT6, Motor: term.Motor3}),
		c.look(look{"03:01", 116, 72, 84, 98, 16}),
	}
	table.skew = 0
	c.at("03:07")
	for _, l := range wrong {
		c.amend(l, timeline.Draft{Payload: l.Payload, Reason: term.ReasonWrongTime, At: l.Event.At.Add(47 * time.Minute)})
	}
	c.note("The phone's clock had been set back 47 minutes; three times put right.")
	c.look(look{"03:10", 116, 72, 84, 98, 16})
	c.at("03:12").say(out(term.FluidOutBlood, "60 mL", term.MeasuredGuessed))
	c.look(look{"03:20", 116, 74, 82, 98, 16})
	c.at("03:21").say(waking(1, 2, 2, 2, 2), &timeline.Block{Block: term.BlockKindSpinal, Height: term.BlockHeightT8, Motor: term.Motor2})
	c.look(look{"03:30", 118, 74, 82, 98, 16})
	c.at("03:40").say(&timeline.Infusion{Act: term.InfusionActChanged, Run: run.Event.ID, Drug: "oxytocin", Rate: amount("60 mL/h"), Strength: amount("0.08 [IU]/mL")})
	c.at("03:42").say(in(term.FluidInDrink, "150 mL"))
	c.look(look{"03:45", 118, 74, 80, 98, 16})
	c.at("03:55").say(phase(term.PhaseHandedOver), waking(1, 2, 2, 2, 2))
	a.at("04:15").say(&timeline.Vitals{Measures: look{"", 118, 74, 80, 98, 16}.measures()}, &timeline.Block{Block: term.BlockKindSpinal, Height: term.BlockHeightT12, Motor: term.Motor1})
	a.at("04:45").say(&timeline.Vitals{Measures: look{"", 118, 74, 78, 98, 16}.measures(), LookedSame: true}, &timeline.Block{Block: term.BlockKindSpinal, Height: term.BlockHeightL3, Motor: term.Motor0})
	a.at("04:50").say(waking(2, 2, 2, 2, 2), out(term.FluidOutUrine, "300 mL", term.MeasuredMeasured))
	a.at("06:20").say(&timeline.Infusion{Act: term.InfusionActStopped, Run: run.Event.ID, Drug: "oxytocin"})
	table.sees(other)
	c.at("07:30").say(&timeline.Outcome{Outcome: term.OutcomeRecovered}, &timeline.CaseClosed{})
}

// headOf gives the last correction that a phone itself wrote of an entry.
func headOf(p *phone, root *timeline.Line) *timeline.Line {
	head := root
	for _, l := range p.lines {
		if l.Event.Amends == root.Event.ID {
			head = l
		}
	}
	return head
}
