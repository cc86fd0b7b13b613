package main

import (
	"time"

	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

// hernia tells of a man of 34 years with a groin hernia, under ether by mask
// and open drop, breathing for himself, with a phone at the table and another
// in the hands of the assistant.
func hernia(table, other *phone) {
	c := &teller{phone: table, day: day(10), about: demo.Hernia, author: demo.Provider}
	c.at("07:05").patient(adult, "Toru Wesimba", "0412", term.SexMale, term.UrgencyElective)
	facts := c.at("07:07").say(&timeline.Facts{
		Age: amount("34 a"), Sex: term.SexMale, Weight: amount("68 kg"), WeightHow: term.WeightHowMeasured, WeightBy: term.WeightByScale, Length: amount("171 cm"),
	})
	c.say(
		&timeline.Facts{ASA: term.ASA1, Mallampati: term.Mallampati1, Mouth: term.MouthOpeningThreeFingers, Neck: term.NeckFree, Teeth: term.TeethLoose},
		&timeline.Facts{Allergies: []term.Allergy{term.AllergyNoneKnown}, Consent: term.ConsentByPatient, Side: term.SideRight, SideMarked: timeline.Yes},
		&timeline.Facts{Haemoglobin: amount("13.1 g/dL")},
	)
	c.note("One upper front tooth is loose, on the left.")
	c.late("05:30", &timeline.Intake{What: term.IntakeClearFluid})
	supper := c.at("07:10").record(timeline.Draft{Payload: &timeline.Intake{What: term.IntakeFullMeal}, At: timeline.MomentOf(day(9).Add(19*time.Hour), "Etc/GMT-3")})
	// The scale stood on its side rail: weighed again.
	c.at("07:16").correct(facts, &timeline.Facts{
		Age: amount("34 a"), Sex: term.SexMale, Weight: amount("58 kg"), WeightHow: term.WeightHowMeasured, WeightBy: term.WeightByScale, Length: amount("171 cm"),
	}, term.ReasonMistyped)
	// He remembers that it was later.
	c.amend(supper, timeline.Draft{Payload: &timeline.Intake{What: term.IntakeFullMeal}, Reason: term.ReasonLearnedLater,
		At: timeline.MomentOf(day(9).Add(20*time.Hour+30*time.Minute), "Etc/GMT-3")})
	c.at("07:18").say(&timeline.Baseline{Measures: look{"", 118, 74, 76, 97, 16}.measures()})
	c.record(timeline.Draft{Payload: &timeline.Plan{
		Techniques: []term.Technique{term.TechniqueOpenDrop}, Agent: term.AgentEther, Airway: term.AirwayDeviceFaceMask, Position: term.PositionSupine,
		Operation: term.OperationHernia, Drugs: []string{"atropine", "morphine"}, LossAllowed: amount("600 mL"),
		Steps: []term.Step{term.StepSkinPrep, term.StepKnife, term.StepPullingViscera, term.StepClosingDeep, term.StepClosingSkin, term.StepDressing},
	}, Private: timeline.Private{timeline.PrivateText: "Repair of a reducible inguinal hernia on the right"}})
	// The morphine was given at once; the atropine was remembered only in the
	// theatre and stands in the record late.
	// Morphine 0.1-0.15 mg/kg IM an hour before: common teaching, from memory.
	c.at("07:30").say(drug("morphine", "7.5 mg", term.RouteIm), phase(term.PhasePremedicated))

	c.at("07:48").check(map[string]timeline.KitItem{
		"suction":       {State: term.KitStateFault, Answer: term.KitAnswerMended},
		"pressure-cuff": {State: term.KitStateFault, Answer: term.KitAnswerBorrowed},
	})
	c.at("07:56").say(&timeline.Unwatched{Monitor: term.MonitorCapnograph, Because: term.BecauseNotHere})
	c.say(&timeline.Unwatched{Monitor: term.MonitorEcg, Because: term.BecauseBroken})

	c.at("08:10").say(phase(term.PhasePatientIn), &timeline.Position{Position: term.PositionSupine, Padded: true})
	c.look(look{"08:12", 122, 76, 84, 97, 16})
	// Atropine 300-600 micrograms IM half an hour to an hour before: summary of
	// product characteristics of atropine sulfate injection.
	late := c.at("08:14").late("07:31", &timeline.Drug{Drug: "atropine", Dose: amount("0.6 mg"), Route: term.RouteIm, Strength: amount("0.6 mg/mL"), Volume: amount("1 mL")})
	debt := c.say(&timeline.Owed{Act: term.OwedActOwed, For: term.OwedLateEntry, Over: late.Event.ID})
	c.at("08:16").say(in(term.FluidInSodiumChloride, "100 mL"))
	c.at("08:18").say(oxygen("2 L/min"))

	// Ether: 10 to 12 drops a minute first, doubled each minute as tolerated, to
	// 60 to 120 by the fifth to eighth minute; kept up with 40 to 80 (common
	// practice, no source).
	c.at("08:20").say(phase(term.PhaseAnaesthesiaStart), support(term.SupportSpontaneous), drops(12, term.WetnessDry),
		&timeline.AgentDelivery{Agent: term.AgentEther, Bottle: amount("200 mL")})
	c.say(&timeline.Vitals{Measures: look{"", 124, 78, 88, 98, 18}.measures()})
	c.at("08:21").say(&timeline.AgentDelivery{Cover: term.CoverOn}, drops(24, term.WetnessDamp))
	c.at("08:22").say(&timeline.Signs{Breathing: term.BreathingQuiet, Eyes: term.EyesLooking, Lid: term.ReflexBrisk, Colour: term.ColourPink})
	c.at("08:23").say(drops(48, term.WetnessDamp))
	c.at("08:24").say(&timeline.Signs{Breathing: term.BreathingHeld, Movement: term.MovementSwallowing, Secretion: term.SecretionSome})
	c.say(drops(24, term.WetnessDamp))
	c.look(look{"08:25", 138, 86, 104, 97, 22})
	c.at("08:26").say(&timeline.Signs{Breathing: term.BreathingUneven, Eyes: term.EyesRoving, Pupils: term.PupilsWide, Lid: term.ReflexBrisk, Jaw: term.JawTight, Movement: term.MovementLimbs, Tears: term.TearsRunning})
	cough := c.say(&timeline.Mark{})
	c.at("08:27").say(drops(60, term.WetnessWet))
	c.at("08:28").say(&timeline.Airway{Device: term.AirwayDeviceFaceMask, Act: term.AirwayActTended, Needed: []term.AirwayNeed{term.AirwayNeedHeadTilt, term.AirwayNeedChinLift}})
	lost := c.say(&timeline.Phase{Phase: term.PhaseUnconscious})
	c.at("08:29").say(drops(90, term.WetnessWet))
	c.look(look{"08:30", 132, 82, 108, 98, 26})
	c.at("08:31").say(&timeline.Signs{Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesRoving, Pupils: term.PupilsMiddle, Lid: term.ReflexFaint, Cornea: term.ReflexBrisk, Jaw: term.JawEasing})
	c.at("08:33").say(drops(100, term.WetnessSoaked), &timeline.Signs{Breathing: term.BreathingEvenAutomatic, Lid: term.ReflexGone, Jaw: term.JawEasing})
	c.look(look{"08:35", 126, 78, 104, 98, 28})
	c.at("08:36").say(&timeline.Signs{Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesApart, Pupils: term.PupilsSmall, Lid: term.ReflexGone, Cornea: term.ReflexFaint, Jaw: term.JawSlack, Chest: term.ChestFull, Movement: term.MovementNone, Colour: term.ColourPink})
	c.at("08:37").say(&timeline.Airway{Device: term.AirwayDeviceOralAirway, Act: term.AirwayActIn, Size: amount("3 1").Value, Route: term.AirwayRouteMouth, Needed: []term.AirwayNeed{term.AirwayNeedJawThrust}, Attempts: 1})
	c.say(&timeline.Position{Position: term.PositionSupine, EyesCovered: true, Padded: true})
	// The mark of 08:26 gets its name; the loss of the lid reflex was two
	// minutes later than tapped.
	c.correct(cough, &timeline.Mark{Label: term.MarkLabelCoughed}, term.ReasonNamedLater)
	c.amend(lost, timeline.Draft{Payload: phase(term.PhaseUnconscious), Reason: term.ReasonWrongTime, At: lost.Event.At.Add(2 * time.Minute)})
	c.at("08:38").say(step(term.StepSkinPrep), drops(80, term.WetnessWet))
	c.look(look{"08:40", 120, 74, 100, 98, 28})
	c.at("08:41").say(&timeline.Signs{Eyes: term.EyesStillCentral, Pupils: term.PupilsMiddle, Cornea: term.ReflexGone, Jaw: term.JawSlack, Chest: term.ChestFull}, phase(term.PhaseReadyForSurgery))
	c.at("08:43").say(phase(term.PhaseKnifeToSkin), step(term.StepKnife))
	wrong := c.look(look{"08:45", 312, 76, 102, 98, 28})
	c.at("08:46").correct(wrong, &timeline.Vitals{Measures: look{"", 132, 76, 102, 98, 28}.measures()}, term.ReasonMistyped)
	c.at("08:47").say(&timeline.Signs{Movement: term.MovementLimbs, Tears: term.TearsWet, Breathing: term.BreathingHeld}, drops(100, term.WetnessWet))
	moved := c.say(&timeline.Mark{})
	c.look(look{"08:50", 128, 80, 106, 97, 30})
	c.at("08:52").correct(moved, &timeline.Mark{Label: term.MarkLabelMoved}, term.ReasonNamedLater)
	c.at("08:53").say(&timeline.Signs{Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesStillCentral, Jaw: term.JawSlack, Movement: term.MovementNone}, drops(70, term.WetnessDamp))
	c.look(look{"08:55", 116, 72, 98, 98, 27})

	// The assistant's phone has everything up to here and keeps the losses.
	other.open(day(10).Add(8*time.Hour+50*time.Minute), timeline.LogOpened{Cause: term.LogCauseNew})
	other.sees(table)
	a := &teller{phone: other, day: c.day, about: c.about, author: demo.Assistant}
	loss := a.at("08:56").say(out(term.FluidOutBlood, "30 mL", term.MeasuredGuessed))
	a.at("08:57").say(in(term.FluidInSodiumChloride, "250 mL"))
	table.sees(other)

	c.at("08:58").say(step(term.StepPullingViscera))
	c.at("08:59").say(&timeline.Signs{Breathing: term.BreathingUneven, Movement: term.MovementStraining}, drops(90, term.WetnessWet))
	c.look(look{"09:00", 112, 70, 88, 98, 26})
	c.at("09:02").say(&timeline.Airway{Device: term.AirwayDeviceOralAirway, Act: term.AirwayActTended, Needed: []term.AirwayNeed{term.AirwayNeedSuction}})
	c.look(look{"09:05", 114, 70, 94, 98, 26})
	// Both correct one loss without sight of each other: the one has weighed
	// the swabs, the other has looked into the bottle. Nobody settles it.
	c.at("09:06").correct(loss, out(term.FluidOutBlood, "60 mL", term.MeasuredGuessed), term.ReasonMistyped)
	a.at("09:07").correct(loss, out(term.FluidOutBlood, "45 mL", term.MeasuredMeasured), term.ReasonLearnedLater)
	c.at("09:08").say(drops(60, term.WetnessDamp), &timeline.Signs{Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesStillCentral, Pupils: term.PupilsMiddle, Cornea: term.ReflexGone, Jaw: term.JawSlack, Chest: term.ChestFull, Sweat: term.SweatDry})
	c.look(look{"09:10", 110, 68, 92, 98, 26})
	table.sees(other)
	other.sees(table)
	tapped := c.at("09:11").say(step(term.StepClosingSkin))
	c.record(timeline.Draft{Payload: &timeline.Struck{}, Amends: tapped.Event.ID, Replaces: []string{tapped.Event.ID}, Reason: term.ReasonTappedByMistake, At: tapped.Event.At})
	c.look(look{"09:15", 110, 68, 90, 98, 25})
	c.at("09:16").say(drops(50, term.WetnessDamp), &timeline.AgentDelivery{Agent: term.AgentEther, Bottle: amount("110 mL")})
	c.at("09:18").say(step(term.StepClosingDeep), phase(term.PhaseClosing))
	c.look(look{"09:20", 112, 70, 90, 98, 24})
	c.at("09:22").say(drops(30, term.WetnessDamp), &timeline.Signs{Breathing: term.BreathingEvenAutomatic, Eyes: term.EyesApart, Cornea: term.ReflexFaint, Jaw: term.JawSlack})
	c.look(look{"09:25", 116, 72, 92, 98, 24})
	a.at("09:26").say(in(term.FluidInSodiumChloride, "300 mL"), out(term.FluidOutBlood, "20 mL", term.MeasuredGuessed))
	table.sees(other)
	c.at("09:27").say(&timeline.AgentDelivery{Agent: term.AgentEther, Off: true, Bottle: amount("96 mL")}, &timeline.AgentDelivery{Cover: term.CoverOff}, step(term.StepClosingSkin))
	c.look(look{"09:30", 120, 76, 94, 98, 22})
	c.at("09:31").say(phase(term.PhaseSurgeryEnd), step(term.StepDressing), oxygen("3 L/min"))
	c.at("09:33").say(&timeline.Signs{Breathing: term.BreathingUneven, Eyes: term.EyesRoving, Lid: term.ReflexFaint, Jaw: term.JawEasing, Movement: term.MovementSwallowing})
	c.look(look{"09:35", 126, 80, 98, 97, 20})
	c.at("09:36").say(&timeline.Airway{Device: term.AirwayDeviceOralAirway, Act: term.AirwayActOut, Needed: []term.AirwayNeed{term.AirwayNeedSuction}},
		&timeline.Position{Position: term.PositionLeftSide, Padded: true}, phase(term.PhaseAnaesthesiaEnd))
	c.at("09:38").say(waking(0, 1, 2, 0, 1))
	c.look(look{"09:40", 122, 78, 96, 95, 18})
	c.at("09:41").say(&timeline.Trouble{Trouble: term.TroubleVomiting, Act: term.TroubleActBegun})
	c.say(&timeline.Trouble{Trouble: term.TroubleVomiting, Act: term.TroubleActStep, Step: "head-down"},
		&timeline.Trouble{Trouble: term.TroubleVomiting, Act: term.TroubleActStep, Step: "suction"}, out(term.FluidOutVomit, "40 mL", term.MeasuredGuessed))
	c.at("09:43").say(&timeline.Trouble{Trouble: term.TroubleVomiting, Act: term.TroubleActOver})
	c.look(look{"09:45", 120, 76, 92, 96, 18})
	c.at("09:46").record(timeline.Draft{Payload: &timeline.Owed{Act: term.OwedActGiven, For: term.OwedLateEntry, Over: late.Event.ID, Debt: debt.Event.ID},
		Private: timeline.Private{timeline.PrivateText: "Given on the ward; the phone was charging in the theatre."}})
	c.at("09:48").say(waking(1, 2, 2, 1, 1))
	c.look(look{"09:50", 118, 76, 88, 97, 16})
	c.look(look{"09:55", 118, 74, 86, 97, 16})
	c.at("09:56").say(&timeline.Signs{Breathing: term.BreathingQuiet, Eyes: term.EyesLooking, Lid: term.ReflexBrisk, Colour: term.ColourPink})
	c.look(look{"10:00", 118, 74, 84, 97, 16})
	c.at("10:03").say(waking(2, 2, 2, 1, 2), oxygen("0 L/min"))
	c.look(look{"10:05", 116, 74, 84, 96, 16})
	c.look(look{"10:15", 116, 72, 82, 97, 16})
	c.at("10:18").say(waking(2, 2, 2, 2, 2))
	// Paracetamol 1 g by mouth: ordinary adult dose, from memory.
	c.at("10:25").say(drug("paracetamol", "1 g", term.RouteOral), in(term.FluidInDrink, "100 mL"))
	c.look(look{"10:30", 118, 74, 80, 97, 15})
	c.say(phase(term.PhaseHandedOver))
	other.sees(table)
}

// herniaEnds tells what happened of the same case after the child's was over.
func herniaEnds(table, other *phone) {
	c := &teller{phone: table, day: day(10), about: demo.Hernia, author: demo.Provider}
	a := &teller{phone: other, day: c.day, about: c.about, author: demo.Assistant}
	a.at("13:10").say(&timeline.Outcome{Outcome: term.OutcomeRecovered})
	table.sees(other)
	c.at("14:05").say(&timeline.CaseClosed{})
}
