package formulary

import (
	"slices"
	"strings"
	"testing"

	"chinlift/core/patient"
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Where the doses of the tables below are published. Read means that the text
// itself was before us, second-hand that another read text reproduces it, from
// memory that neither was: those rows hold a rule to what is remembered of the
// source, and a paper copy must settle them.
const (
	resus2021     = "Resuscitation Council UK, Emergency treatment of anaphylaxis, 2021, doses by age (second-hand)"
	resusALS      = "Resuscitation Council UK, Adult advanced life support, 2021 (second-hand; 1 mg from memory)"
	erc2010       = "European Resuscitation Council, Guidelines, 2010, paediatric life support (read)"
	resusBirth    = "Resuscitation Council UK, Newborn resuscitation and support of transition, 2021: 20 micrograms/kg, 0.2 mL/kg of 1:10 000 (read)"
	rcem          = "Royal College of Emergency Medicine, adrenaline by vein in anaphylaxis (read)"
	bnfcIV        = "BNF for Children, adrenaline by vein, 1 microgram/kg, single dose 50 micrograms at most (read)"
	aagbi2009     = "Association of Anaesthetists of Great Britain and Ireland, Suspected anaphylactic reactions, 2009 (read)"
	aagbiLipid    = "Association of Anaesthetists of Great Britain and Ireland, Management of severe local anaesthetic toxicity, 2010, table for 70 kg (read)"
	algorithm     = "Clinical Anesthesia, 7th ed., laryngospasm (read; suxamethonium into muscle and atropine second-hand)"
	qrh311        = "Association of Anaesthetists, Quick Reference Handbook, 2018, 3-11 (read)"
	qrhMemory     = "Association of Anaesthetists, Quick Reference Handbook, 2018 (from memory)"
	seAsia        = "South-East Asian consensus on hypotension under spinal anaesthesia, 2022 (read)"
	orphanet      = "Orphanet Journal of Rare Diseases, malignant hyperthermia review, table 2; 70 kg = 175 mg = 9 vials, 700 mg = 35 (read)"
	scottish      = "Scottish paediatric resuscitation doses, atropine (second-hand)"
	glucoseMemory = "common teaching, 2 mL/kg of 10 % (from memory)"
	martindale    = "Martindale Pharma, Atropine sulfate injection, UK product characteristics (read)"
	bnfcGlyco     = "BNF for Children, glycopyrronium (second-hand)"
	highland      = "NHS Highland, Paediatric premedication (read)"
	starship      = "Starship Children's Health, oral premedication (read)"
	bnfc631       = "BNF for Children, 2011-12, p. 631, ketamine (read)"
	surgical      = "WHO, Surgical Care at the District Hospital, 2003 (read)"
	handbook      = "Oxford Handbook of Anaesthesia, premedication (second-hand)"
	whoFormulary  = "WHO Model Formulary, 2008 (from memory)"
	whoAnaes      = "WHO, Model Prescribing Information: Drugs Used in Anaesthesia, 1989 (from memory)"
	chung         = "Chung et al., 1996, spinal bupivacaine for caesarean section (read)"
	hyperbaric    = "product information of 0.5 % hyperbaric bupivacaine, children by weight (read)"
	ome           = "Oxford Medical Education, local anaesthetics (read)"
	etg           = "Therapeutic Guidelines, local anaesthetics (read)"
	bahamas       = "Bahamas National Drug Formulary, bupivacaine (read)"
	six           = "maximum 30 % less under 6 months (second-hand)"
	bahrain       = "Bahrain Ministry of Health, promethazine (read)"
	equianalgesic = "equianalgesic tables: American Family Physician 2000-02-01 p. 755 (read)"
	usLabel       = "US product label (from memory)"
	bnf           = "British National Formulary (from memory)"
	bnfc          = "BNF for Children (from memory)"
	teachingLA    = "teaching page: 500 micrograms of adrenaline are 100 mL of 1:200 000, and the most (read)"
	whoHalothane  = "WHO Model Formulary, 2008: with halothane 1.5 micrograms/kg and 100 micrograms in 10 min (from memory)"
	ashp          = "Bratzler et al., antimicrobial prophylaxis in surgery, 2013, table 1 (from memory)"
	msf           = "Médecins Sans Frontières, Essential drugs, 2019 (from memory)"
	bts           = "British Thoracic Society, asthma (from memory)"
	rampart       = "Silbergleit et al., 2012, status epilepticus (from memory)"
	crash         = "CRASH-2, Lancet 2010;376:23 (from memory)"
	etherTeaching = "teaching page on ether: 5 to 15 % is usual (read)"
	korea         = "Korean Journal of Anesthesiology 1973;6:39: 3 % is enough with controlled ventilation (read)"
	refractory    = "Resuscitation Council UK, Refractory anaphylaxis, 2021 (read in a copy)"
	magee         = "Magee et al., British Journal of Clinical Pharmacology 2011;72:394, table 1 (read)"
	whoBirth      = "WHO, Managing complications in pregnancy and childbirth (read in a reprint)"
	labelLA       = "product information of a lidocaine spray, overdose: diazepam 0.1 mg/kg (read)"
	textbooks     = "textbooks of anaesthesia (from memory)"
	practice      = "common practice, no source"
)

// TestPublished holds every use of the drugs that come with the companion to a
// published dose. The numbers are those of the source, worked out for a patient; where
// a rule differs on purpose, published has the highest dose of the source, why
// says which is the safer, and the rule must stay under it.
func TestPublished(t *testing.T) {
	f := builtins(t)
	man := pt("40 a", term.SexMale, "70 kg", "")
	woman := pt("30 a", term.SexFemale, "60 kg", "")
	kg := func(age, weight string) patient.Patient { return pt(age, "", weight, "") }
	held := map[string]bool{}
	for _, c := range []struct {
		source         string
		drug, use      string
		p              patient.Patient
		with           []term.Condition
		low, high      string
		suggested      string // empty: not asked
		volume         string // mL, or mL/h of an infusion
		full           string // the highest before the cap
		vials          int
		published, why string
	}{
		// Cardiac arrest.
		{source: resusALS, drug: "adrenaline", use: "arrest", p: man, low: "1 mg", high: "1 mg", suggested: "1 mg", volume: "10 mL"},
		{source: erc2010, drug: "adrenaline", use: "arrest", p: kg("1 a", "10 kg"), low: "100 ug", high: "100 ug", suggested: "100 ug", volume: "1 mL"},
		{source: erc2010, drug: "adrenaline", use: "arrest", p: kg("6 a", "20 kg"), low: "200 ug", high: "200 ug", suggested: "200 ug", volume: "2 mL"},
		{source: erc2010, drug: "adrenaline", use: "arrest", p: kg("1 d", "3 kg"), low: "30 ug", high: "30 ug", suggested: "30 ug", volume: "0.3 mL"},
		{source: resusBirth, drug: "adrenaline", use: "arrest-newborn", p: kg("1 d", "3 kg"), low: "60 ug", high: "60 ug", suggested: "60 ug", volume: "0.6 mL"},
		{source: resusBirth, drug: "adrenaline", use: "arrest-newborn", p: kg("0 d", "1.5 kg"), low: "30 ug", high: "30 ug", suggested: "30 ug", volume: "0.3 mL"},
		{source: resusALS, drug: "amiodarone", use: "arrest", p: man, low: "300 mg", high: "300 mg", suggested: "300 mg"},
		{source: resusALS, drug: "amiodarone", use: "arrest-again", p: man, low: "150 mg", high: "150 mg", suggested: "150 mg"},
		{source: erc2010, drug: "amiodarone", use: "arrest", p: kg("6 a", "20 kg"), low: "100 mg", high: "100 mg", suggested: "100 mg", volume: "2 mL"},
		{source: erc2010, drug: "amiodarone", use: "arrest-again", p: kg("6 a", "20 kg"), low: "100 mg", high: "100 mg", suggested: "100 mg", volume: "2 mL"},
		{source: erc2010, drug: "amiodarone", use: "arrest-again", p: kg("11 a", "40 kg"), low: "150 mg", high: "150 mg", full: "200 mg", published: "200 mg", why: "held at a grown-up's second dose"},

		// Anaphylaxis.
		{source: resus2021, drug: "adrenaline", use: "anaphylaxis-im", p: man, low: "300 ug", high: "500 ug", suggested: "500 ug", volume: "0.5 mL"},
		{source: resus2021, drug: "adrenaline", use: "anaphylaxis-im", p: kg("13 a", "40 kg"), low: "300 ug", high: "500 ug", suggested: "500 ug", volume: "0.5 mL"},
		{source: resus2021, drug: "adrenaline", use: "anaphylaxis-im", p: kg("8 a", "25 kg"), low: "300 ug", high: "300 ug", suggested: "300 ug", volume: "0.3 mL"},
		{source: resus2021, drug: "adrenaline", use: "anaphylaxis-im", p: kg("6 a", "20 kg"), low: "300 ug", high: "300 ug", suggested: "300 ug", volume: "0.3 mL"},
		{source: resus2021, drug: "adrenaline", use: "anaphylaxis-im", p: kg("2 a", "12 kg"), low: "150 ug", high: "150 ug", suggested: "150 ug", volume: "0.15 mL"},
		{source: resus2021, drug: "adrenaline", use: "anaphylaxis-im", p: kg("3 mo", "5.5 kg"), low: "100 ug", high: "150 ug", suggested: "100 ug", volume: "0.1 mL"},
		{source: rcem, drug: "adrenaline", use: "anaphylaxis-iv", p: man, low: "50 ug", high: "50 ug", suggested: "50 ug", volume: "5 mL"}, // the source has 0.5 mL of ten times the strength
		{source: bnfcIV, drug: "adrenaline", use: "anaphylaxis-iv", p: kg("6 a", "20 kg"), low: "20 ug", high: "20 ug", suggested: "20 ug"},
		{source: bnfcIV, drug: "adrenaline", use: "anaphylaxis-iv", p: kg("11 a", "60 kg"), low: "50 ug", high: "50 ug", full: "60 ug"},
		{source: aagbi2009, drug: "hydrocortisone", use: "anaphylaxis", p: man, low: "200 mg", high: "200 mg", suggested: "200 mg", vials: 2},
		{source: aagbi2009, drug: "hydrocortisone", use: "anaphylaxis", p: kg("8 a", "25 kg"), low: "100 mg", high: "100 mg", suggested: "100 mg", vials: 1},
		{source: aagbi2009, drug: "hydrocortisone", use: "anaphylaxis", p: kg("2 a", "12 kg"), low: "50 mg", high: "50 mg", suggested: "50 mg"},
		{source: aagbi2009, drug: "hydrocortisone", use: "anaphylaxis", p: kg("3 mo", "5.5 kg"), low: "25 mg", high: "25 mg", suggested: "25 mg"},
		{source: aagbi2009, drug: "chlorphenamine", use: "anaphylaxis", p: man, low: "10 mg", high: "10 mg", suggested: "10 mg", volume: "1 mL"},
		{source: aagbi2009, drug: "chlorphenamine", use: "anaphylaxis", p: kg("8 a", "25 kg"), low: "5 mg", high: "5 mg", suggested: "5 mg", volume: "0.5 mL"},
		{source: aagbi2009, drug: "chlorphenamine", use: "anaphylaxis", p: kg("2 a", "12 kg"), low: "2.5 mg", high: "2.5 mg", suggested: "2.5 mg", volume: "0.25 mL"},
		{source: aagbi2009, drug: "chlorphenamine", use: "anaphylaxis", p: kg("4 mo", "6 kg"), low: "1.5 mg", high: "1.5 mg", suggested: "1.5 mg"},

		// A drip of 1 mg in 100 mL at 0.5 to 1 mL/kg/h: 35 mL/h to begin with at 70 kg.
		{source: refractory, drug: "adrenaline", use: "anaphylaxis-infusion", p: man, low: "350 ug/h", high: "700 ug/h", suggested: "350 ug/h", volume: "35 mL/h"},
		{source: refractory, drug: "adrenaline", use: "anaphylaxis-infusion", p: kg("6 a", "20 kg"), low: "100 ug/h", high: "200 ug/h", suggested: "100 ug/h", volume: "10 mL/h"},

		// A severe high pressure in pregnancy and after birth.
		{source: magee, drug: "hydralazine", use: "high-pressure-iv", p: woman, low: "2 mg", high: "5 mg", suggested: "2 mg", volume: "2 mL"},
		{source: whoBirth, drug: "labetalol", use: "high-pressure-iv", p: woman, low: "10 mg", high: "20 mg", suggested: "10 mg", volume: "2 mL"},
		{source: whoBirth, drug: "labetalol", use: "high-pressure-again-iv", p: woman, low: "20 mg", high: "80 mg", suggested: "20 mg", volume: "4 mL"},
		{source: magee, drug: "nifedipine", use: "high-pressure-oral", p: woman, low: "5 mg", high: "10 mg", suggested: "5 mg"},

		// A convulsion, or a wild waking, little by little.
		{source: labelLA, drug: "diazepam", use: "convulsion-step-iv", p: man, low: "2.5 mg", high: "5 mg", suggested: "2.5 mg", volume: "0.5 mL", published: "7 mg", why: "0.1 mg/kg are published as one dose: in steps from a third of it, 5 mg at most at once"},
		{source: labelLA, drug: "diazepam", use: "convulsion-step-iv", p: kg("6 a", "20 kg"), low: "1 mg", high: "2 mg", suggested: "1 mg", volume: "0.2 mL"},
		{source: practice, drug: "diazepam", use: "sedation-step-iv", p: man, low: "2 mg", high: "2.5 mg", suggested: "2 mg", volume: "0.4 mL"},
		{source: practice, drug: "diazepam", use: "sedation-step-iv", p: kg("6 a", "20 kg"), low: "1 mg", high: "2 mg", suggested: "1 mg", volume: "0.2 mL"},
		{source: textbooks, drug: "midazolam", use: "convulsion-step-iv", p: man, low: "1 mg", high: "2 mg", suggested: "1 mg", volume: "1 mL"},
		{source: textbooks, drug: "midazolam", use: "convulsion-step-iv", p: kg("6 a", "20 kg"), low: "1 mg", high: "2 mg", suggested: "1 mg", volume: "1 mL"},

		// Laryngospasm, high block, low pressure, slow pulse, low glucose.
		{source: algorithm, drug: "propofol", use: "laryngospasm-iv", p: kg("4 a", "16 kg"), low: "8 mg", high: "16 mg", suggested: "8 mg", volume: "0.8 mL"},
		{source: algorithm, drug: "suxamethonium", use: "laryngospasm-iv", p: kg("4 a", "16 kg"), low: "16 mg", high: "32 mg"},
		{source: algorithm, drug: "suxamethonium", use: "laryngospasm-im", p: kg("4 a", "15 kg"), low: "45 mg", high: "60 mg", suggested: "60 mg", volume: "1.2 mL"},
		{source: algorithm, drug: "atropine", use: "laryngospasm-im", p: kg("4 a", "15 kg"), low: "300 ug", high: "300 ug", suggested: "300 ug", volume: "0.5 mL"},
		{source: qrh311, drug: "atropine", use: "slow-pulse", p: man, low: "400 ug", high: "1 mg", suggested: "600 ug", volume: "1 mL", published: "1.2 mg", why: "the handbook has 0.6 to 1.2 mg; one dose is held at 1 mg and may be had again after 3 min"},
		{source: qrh311, drug: "glycopyrronium", use: "slow-pulse", p: man, low: "200 ug", high: "400 ug"},
		{source: scottish, drug: "atropine", use: "slow-pulse", p: kg("6 a", "20 kg"), low: "400 ug", high: "400 ug"},
		{source: scottish, drug: "atropine", use: "slow-pulse", p: kg("7 d", "3 kg"), low: "30 ug", high: "30 ug"},
		{source: seAsia, drug: "phenylephrine", use: "low-pressure-iv", p: woman, low: "50 ug", high: "100 ug"},
		{source: seAsia, drug: "phenylephrine", use: "low-pressure-infusion", p: woman, low: "25 ug/min", high: "50 ug/min"},
		{source: qrhMemory, drug: "ephedrine", use: "low-pressure-iv", p: woman, low: "3 mg", high: "6 mg", suggested: "6 mg", volume: "2 mL", published: "12 mg", why: "6 to 12 mg and 5 to 15 mg are published: in steps of 3 to 6 mg, of which 15 mg are the most at once"},
		{source: qrhMemory, drug: "metaraminol", use: "low-pressure-iv", p: man, low: "0.5 mg", high: "1 mg", published: "2 mg", why: "1 to 2 mg are published: half of it first, 2 mg are the most at once"},
		{source: glucoseMemory, drug: "glucose-10", use: "low-glucose-iv", p: kg("1 a", "10 kg"), low: "2 g", high: "5 g", suggested: "2 g", volume: "20 mL"},

		// Local anaesthetic toxicity: 1050 mL/h are 17.5 mL/min.
		{source: aagbiLipid, drug: "lipid-emulsion", use: "bolus-iv", p: man, low: "105 mL", high: "105 mL", suggested: "105 mL", volume: "105 mL"},
		{source: aagbiLipid, drug: "lipid-emulsion", use: "infusion-iv", p: man, low: "1050 mL/h", high: "2100 mL/h", suggested: "1050 mL/h", volume: "1050 mL/h"},
		// Malignant hyperthermia.
		{source: orphanet, drug: "dantrolene", use: "first-iv", p: man, low: "140 mg", high: "175 mg", volume: "525 mL", vials: 9},
		{source: orphanet, drug: "dantrolene", use: "again-iv", p: man, low: "70 mg", high: "70 mg", vials: 4},

		// Premedication.
		{source: martindale, drug: "atropine", use: "premedication-im", p: man, low: "300 ug", high: "600 ug"},
		{source: martindale, drug: "atropine", use: "induction-iv", p: man, low: "300 ug", high: "600 ug"},
		{source: martindale, drug: "atropine", use: "premedication-im", p: kg("1 mo", "3 kg"), low: "30 ug", high: "60 ug", published: "100 ug", why: "by weight; the band of 100 micrograms is the old least dose, no longer advised for the smallest"},
		{source: martindale, drug: "atropine", use: "premedication-im", p: kg("8 mo", "8 kg"), low: "80 ug", high: "160 ug", published: "200 ug", why: "20 micrograms/kg is the lower of the two"},
		{source: martindale, drug: "atropine", use: "premedication-im", p: kg("3 a", "14 kg"), low: "140 ug", high: "280 ug", published: "300 ug", why: "20 micrograms/kg is the lower of the two"},
		{source: martindale, drug: "atropine", use: "premedication-im", p: kg("6 a", "20 kg"), low: "200 ug", high: "400 ug"},
		{source: martindale, drug: "atropine", use: "premedication-im", p: kg("11 a", "41 kg"), low: "410 ug", high: "600 ug", full: "820 ug"},
		{source: bnfcGlyco, drug: "glycopyrronium", use: "premedication-im", p: man, low: "200 ug", high: "400 ug"},
		{source: bnfcGlyco, drug: "glycopyrronium", use: "premedication-im", p: kg("6 a", "20 kg"), low: "80 ug", high: "160 ug"},
		{source: bnfcGlyco, drug: "glycopyrronium", use: "premedication-im", p: kg("11 a", "40 kg"), low: "160 ug", high: "200 ug", full: "320 ug"},
		{source: bnfcGlyco, drug: "glycopyrronium", use: "premedication-im", p: kg("7 d", "3 kg"), low: "15 ug", high: "15 ug"},
		{source: highland, drug: "midazolam", use: "premedication-oral", p: kg("5 a", "18 kg"), low: "9 mg", high: "9 mg", suggested: "9 mg"},
		{source: highland, drug: "midazolam", use: "premedication-oral", p: kg("11 a", "45 kg"), low: "15 mg", high: "15 mg", full: "22.5 mg", published: "20 mg", why: "15 and 20 mg are both published as the most: the lower"},
		{source: highland, drug: "clonidine", use: "premedication-oral", p: kg("5 a", "20 kg"), low: "80 ug", high: "80 ug"},
		{source: highland, drug: "clonidine", use: "premedication-oral", p: kg("17 a", "80 kg"), low: "300 ug", high: "300 ug", full: "320 ug"},
		{source: highland, drug: "lorazepam", use: "premedication-oral", p: kg("8 a", "25 kg"), low: "1.25 mg", high: "2.5 mg"},
		{source: highland, drug: "lorazepam", use: "premedication-oral", p: kg("11 a", "45 kg"), low: "2.25 mg", high: "4 mg", full: "4.5 mg"},
		{source: highland, drug: "lorazepam", use: "premedication-oral", p: kg("15 a", "55 kg"), low: "1 mg", high: "4 mg"},
		{source: starship, drug: "ketamine", use: "premedication-oral", p: kg("4 a", "16 kg"), low: "48 mg", high: "80 mg"},
		{source: handbook, drug: "diazepam", use: "premedication-oral", p: kg("6 a", "20 kg"), low: "2 mg", high: "4 mg"},
		{source: whoFormulary, drug: "diazepam", use: "premedication-oral", p: man, low: "5 mg", high: "10 mg"},
		{source: whoFormulary, drug: "pethidine", use: "premedication-im", p: woman, low: "30 mg", high: "60 mg", suggested: "60 mg", volume: "1.2 mL"},
		{source: whoFormulary, drug: "morphine", use: "premedication-im", p: kg("40 a", "50 kg"), low: "5 mg", high: "10 mg", suggested: "7.5 mg", volume: "0.75 mL"},
		{source: whoFormulary, drug: "morphine", use: "premedication-im", p: kg("6 a", "20 kg"), low: "1 mg", high: "2 mg", suggested: "1 mg", volume: "0.1 mL"},
		{source: whoFormulary, drug: "morphine", use: "premedication-im", p: kg("65 a", "60 kg"), low: "3 mg", high: "6 mg"},
		{source: whoFormulary, drug: "promethazine", use: "premedication-im", p: man, low: "25 mg", high: "50 mg"},
		{source: bahrain, drug: "promethazine", use: "premedication-im", p: kg("7 a", "22 kg"), low: "6.25 mg", high: "12.5 mg"},
		{source: whoFormulary, drug: "hyoscine", use: "premedication-im", p: man, low: "200 ug", high: "600 ug"},
		{source: "15 micrograms/kg, historical (second-hand)", drug: "hyoscine", use: "premedication-im", p: kg("6 a", "20 kg"), low: "300 ug", high: "300 ug"},

		// Ketamine.
		{source: bnfc631, drug: "ketamine", use: "induction-iv", p: kg("6 a", "20 kg"), low: "20 mg", high: "40 mg", suggested: "40 mg", volume: "4 mL"},
		{source: bnfc631, drug: "ketamine", use: "induction-iv", p: kg("15 a", "50 kg"), low: "50 mg", high: "100 mg", suggested: "100 mg", volume: "2 mL", published: "225 mg", why: "1 to 4.5 mg/kg, 2 mg/kg usual: above that it is a matter of a reason, and 4.5 mg/kg is the most"},
		{source: surgical, drug: "ketamine", use: "induction-im", p: woman, low: "360 mg", high: "480 mg", suggested: "350 mg", volume: "7 mL", published: "480 mg", why: "7.2 mL are 360 mg: cut to the mark of 0.5 mL"},
		{source: surgical, drug: "ketamine", use: "induction-im", p: kg("6 a", "20 kg"), low: "100 mg", high: "160 mg", suggested: "120 mg", volume: "2.4 mL", published: "160 mg", why: "a child's range begins at 5 mg/kg, the lower of two"},
		{source: bnfc631, drug: "ketamine", use: "infusion-iv", p: man, low: "700 ug/min", high: "3150 ug/min", volume: "42 mL/h"},

		// Induction and relaxation.
		{source: whoAnaes, drug: "thiopental", use: "induction-iv", p: man, low: "210 mg", high: "350 mg"},
		{source: usLabel, drug: "propofol", use: "induction-iv", p: man, low: "105 mg", high: "175 mg"},
		{source: usLabel, drug: "propofol", use: "induction-iv", p: kg("70 a", "60 kg"), low: "60 mg", high: "90 mg"},
		{source: usLabel, drug: "propofol", use: "induction-iv", p: kg("6 a", "20 kg"), low: "50 mg", high: "80 mg"},
		{source: whoFormulary, drug: "suxamethonium", use: "relaxation-iv", p: man, low: "70 mg", high: "105 mg"},
		{source: whoFormulary, drug: "suxamethonium", use: "relaxation-iv", p: kg("6 a", "20 kg"), low: "20 mg", high: "40 mg"},
		{source: whoFormulary, drug: "suxamethonium", use: "relaxation-iv", p: kg("4 mo", "6 kg"), low: "12 mg", high: "12 mg"},
		{source: whoFormulary, drug: "suxamethonium", use: "relaxation-im", p: kg("4 mo", "6 kg"), low: "24 mg", high: "30 mg"},
		{source: whoFormulary, drug: "suxamethonium", use: "relaxation-im", p: kg("11 a", "45 kg"), low: "150 mg", high: "150 mg", full: "180 mg"},
		{source: whoFormulary, drug: "vecuronium", use: "relaxation-iv", p: woman, low: "4.8 mg", high: "6 mg"},
		{source: whoFormulary, drug: "vecuronium", use: "top-up-iv", p: woman, low: "1.2 mg", high: "1.8 mg"},
		{source: whoFormulary, drug: "atracurium", use: "relaxation-iv", p: woman, low: "18 mg", high: "36 mg"},
		{source: usLabel, drug: "rocuronium", use: "relaxation-iv", p: woman, low: "36 mg", high: "36 mg"},
		{source: usLabel, drug: "rocuronium", use: "rapid-iv", p: woman, low: "60 mg", high: "72 mg"},
		{source: whoFormulary, drug: "neostigmine", use: "reversal-iv", p: kg("40 a", "45 kg"), low: "1.35 mg", high: "2.5 mg", full: "3.15 mg"},
		{source: whoFormulary, drug: "neostigmine", use: "reversal-iv", p: kg("6 a", "20 kg"), low: "0.8 mg", high: "1 mg"},
		{source: whoFormulary, drug: "atropine", use: "with-neostigmine", p: kg("6 a", "20 kg"), low: "400 ug", high: "400 ug"},
		{source: whoFormulary, drug: "glycopyrronium", use: "with-neostigmine", p: kg("6 a", "20 kg"), low: "200 ug", high: "200 ug"},

		// Local anaesthetics: 70 kg, 1 % of lidocaine and half of bupivacaine.
		{source: ome, drug: "lidocaine", use: "block", p: man, low: "70 mg", high: "200 mg", full: "210 mg", published: "210 mg", why: "worked example: 3 mg/kg, 21 mL of 1 %; the cap of 200 mg (British National Formulary, from memory) rules, 20 mL"},
		{source: etg, drug: "lidocaine", use: "block", p: kg("6 a", "20 kg"), low: "20 mg", high: "60 mg"},
		{source: six, drug: "lidocaine", use: "block", p: kg("3 mo", "5 kg"), low: "3.5 mg", high: "10.5 mg"},
		{source: ome, drug: "lidocaine-adrenaline", use: "block", p: man, low: "70 mg", high: "490 mg", full: "490 mg"},
		{source: etg, drug: "bupivacaine", use: "block", p: kg("6 a", "20 kg"), low: "10 mg", high: "40 mg"},
		{source: bahamas, drug: "bupivacaine", use: "block", p: man, low: "35 mg", high: "140 mg"},
		{source: whoFormulary, drug: "bupivacaine", use: "block", p: kg("40 a", "90 kg"), low: "45 mg", high: "150 mg", full: "180 mg"},
		{source: six, drug: "bupivacaine", use: "block", p: kg("3 mo", "5 kg"), low: "1.75 mg", high: "7 mg"},
		{source: etg, drug: "prilocaine", use: "block", p: woman, low: "60 mg", high: "300 mg", published: "360 mg", why: "6 mg/kg here, 5 mg/kg by Oxford Medical Education: the lower"},
		{source: "intravenous regional anaesthesia, 3 mg/kg of 0.5 % at most (from memory)", drug: "lidocaine", use: "regional-iv", p: woman, low: "120 mg", high: "180 mg"},
		{source: whoFormulary, drug: "bupivacaine-heavy", use: "spinal", p: man, low: "10 mg", high: "15 mg", suggested: "10 mg", volume: "2 mL"},
		{source: hyperbaric, drug: "bupivacaine-heavy", use: "spinal", p: kg("2 mo", "4 kg"), low: "1.6 mg", high: "2 mg"},
		{source: hyperbaric, drug: "bupivacaine-heavy", use: "spinal", p: kg("1 a", "10 kg"), low: "3 mg", high: "4 mg"},
		{source: hyperbaric, drug: "bupivacaine-heavy", use: "spinal", p: kg("6 a", "20 kg"), low: "5 mg", high: "6 mg"},
		{source: chung, drug: "bupivacaine-heavy", use: "spinal-caesarean", p: woman, low: "9 mg", high: "12.5 mg", suggested: "10 mg", volume: "2 mL"},
		{source: practice, drug: "bupivacaine-heavy", use: "spinal-perineum", p: man, low: "5 mg", high: "7.5 mg"},
		{source: whoFormulary, drug: "lidocaine-heavy", use: "spinal", p: man, low: "50 mg", high: "75 mg", suggested: "50 mg", volume: "1 mL"},

		// Paracetamol, by age and weight.
		{source: whoFormulary, drug: "paracetamol", use: "analgesia-oral", p: man, low: "500 mg", high: "1 g"},
		{source: whoFormulary, drug: "paracetamol", use: "analgesia-oral-child", p: kg("6 a", "20 kg"), low: "200 mg", high: "300 mg"},
		{source: whoFormulary, drug: "paracetamol", use: "analgesia-iv", p: kg("40 a", "50 kg"), low: "1 g", high: "1 g", volume: "100 mL"},
		{source: whoFormulary, drug: "paracetamol", use: "analgesia-iv", p: kg("6 a", "20 kg"), low: "300 mg", high: "300 mg", volume: "30 mL"},
		{source: whoFormulary, drug: "paracetamol", use: "analgesia-iv-small", p: kg("6 mo", "8 kg"), low: "60 mg", high: "60 mg", volume: "6 mL"},

		// Eclampsia, asthma, birth and bleeding.
		{source: whoFormulary, drug: "magnesium-sulfate", use: "eclampsia-iv", p: woman, low: "4 g", high: "4 g", suggested: "4 g", volume: "20 mL"},
		{source: whoFormulary, drug: "magnesium-sulfate", use: "eclampsia-im-first", p: woman, low: "10 g", high: "10 g", suggested: "10 g", volume: "20 mL"},
		{source: whoFormulary, drug: "magnesium-sulfate", use: "eclampsia-im", p: woman, low: "5 g", high: "5 g", volume: "10 mL"},
		{source: whoFormulary, drug: "magnesium-sulfate", use: "eclampsia-infusion", p: woman, low: "1 g/h", high: "1 g/h"},
		{source: whoFormulary, drug: "magnesium-sulfate", use: "eclampsia-again-iv", p: woman, low: "2 g", high: "2 g"},
		{source: whoFormulary, drug: "magnesium-sulfate", use: "bronchospasm-iv", p: kg("6 a", "20 kg"), low: "0.8 g", high: "1 g"},
		{source: whoFormulary, drug: "oxytocin", use: "third-stage-im", p: woman, low: "10 [IU]", high: "10 [IU]"},
		{source: whoFormulary, drug: "oxytocin", use: "caesarean-iv", p: woman, low: "3 [IU]", high: "5 [IU]"},
		{source: whoFormulary, drug: "oxytocin", use: "bleeding-infusion", p: woman, low: "10 [IU]/h", high: "10 [IU]/h", volume: "125 mL/h"},
		{source: whoFormulary, drug: "ergometrine", use: "bleeding-im", p: woman, low: "200 ug", high: "200 ug"},
		{source: whoFormulary, drug: "tranexamic-acid", use: "after-birth-iv", p: woman, low: "1 g", high: "1 g", volume: "10 mL"},
		{source: whoFormulary, drug: "tranexamic-acid", use: "injury-iv", p: kg("6 a", "20 kg"), low: "300 mg", high: "300 mg", volume: "3 mL"},

		// The rest.
		{source: whoFormulary, drug: "ondansetron", use: "antiemetic-iv", p: kg("6 a", "20 kg"), low: "2 mg", high: "2 mg", volume: "1 mL"},
		{source: whoFormulary, drug: "dexamethasone", use: "antiemetic-iv", p: kg("6 a", "20 kg"), low: "3 mg", high: "3 mg"},
		{source: whoFormulary, drug: "metoclopramide", use: "antiemetic-iv", p: man, low: "10 mg", high: "10 mg"},
		{source: whoFormulary, drug: "diclofenac", use: "analgesia-im", p: man, low: "75 mg", high: "75 mg", volume: "3 mL"},
		{source: whoFormulary, drug: "naloxone", use: "after-anaesthesia", p: man, low: "100 ug", high: "200 ug"},
		{source: whoFormulary, drug: "naloxone", use: "overdose", p: kg("6 a", "20 kg"), low: "200 ug", high: "2 mg", suggested: "200 ug"},
		{source: whoFormulary, drug: "flumazenil", use: "reversal-iv", p: man, low: "200 ug", high: "200 ug", volume: "2 mL"},
		{source: whoFormulary, drug: "glucose-50", use: "low-glucose-iv", p: man, low: "25 g", high: "25 g", volume: "50 mL"},
		{source: whoFormulary, drug: "calcium-gluconate", use: "magnesium-poisoning-iv", p: man, low: "1 g", high: "1 g", volume: "10 mL"},
		{source: whoFormulary, drug: "calcium-gluconate", use: "potassium-iv", p: kg("6 a", "20 kg"), low: "1 g", high: "1 g", volume: "10 mL"},
		{source: whoFormulary, drug: "sodium-bicarbonate", use: "acidosis-iv", p: kg("40 a", "50 kg"), low: "50 mmol", high: "50 mmol", volume: "50 mL"},
		{source: whoFormulary, drug: "salbutamol", use: "nebule", p: man, low: "2.5 mg", high: "5 mg", suggested: "5 mg"},
		{source: whoFormulary, drug: "salbutamol", use: "nebule", p: kg("3 a", "14 kg"), low: "2.5 mg", high: "2.5 mg"},
		{source: whoFormulary, drug: "salbutamol", use: "bronchospasm-iv", p: man, low: "250 ug", high: "250 ug"},

		// Grown-ups and children in the uses and bands that are not above.
		{source: qrhMemory, drug: "adrenaline", use: "low-pressure-iv", p: man, low: "10 ug", high: "50 ug", suggested: "10 ug", volume: "1 mL", published: "50 ug", why: "50 micrograms are published: in steps from a fifth of it"},
		{source: bnfcIV, drug: "adrenaline", use: "low-pressure-iv", p: kg("6 a", "20 kg"), low: "20 ug", high: "20 ug", volume: "2 mL"},
		{source: teachingLA, drug: "adrenaline", use: "infiltration", p: man, low: "50 ug", high: "500 ug"},
		{source: whoHalothane, drug: "adrenaline", use: "infiltration-halothane", p: man, low: "35 ug", high: "100 ug", full: "105 ug"},
		{source: whoHalothane, drug: "adrenaline", use: "infiltration-halothane", p: woman, low: "30 ug", high: "90 ug"},
		{source: whoHalothane, drug: "lidocaine-adrenaline", use: "block-halothane", p: man, low: "70 mg", high: "200 mg", full: "210 mg"},
		{source: whoFormulary, drug: "aminophylline", use: "bronchospasm-iv", p: man, low: "350 mg", high: "350 mg", volume: "70 mL"},
		{source: bnf, drug: "aminophylline", use: "bronchospasm-infusion", p: man, low: "21 mg/h", high: "35 mg/h"},
		{source: ashp, drug: "ampicillin", use: "before-cut-iv", p: woman, low: "2 g", high: "2 g"},
		{source: ashp, drug: "ampicillin", use: "before-cut-iv", p: kg("6 a", "20 kg"), low: "1 g", high: "1 g"},
		{source: ashp, drug: "cefazolin", use: "before-cut-iv", p: woman, low: "2 g", high: "2 g"},
		{source: ashp, drug: "cefazolin", use: "before-cut-iv", p: kg("6 a", "20 kg"), low: "600 mg", high: "600 mg"},
		{source: ashp, drug: "metronidazole", use: "before-cut-iv", p: woman, low: "500 mg", high: "500 mg", volume: "100 mL"},
		{source: ashp, drug: "metronidazole", use: "before-cut-iv", p: kg("6 a", "20 kg"), low: "300 mg", high: "300 mg"},
		{source: whoFormulary, drug: "diazepam", use: "sedation-iv", p: woman, low: "6 mg", high: "10 mg", full: "12 mg"},
		{source: whoFormulary, drug: "diazepam", use: "sedation-iv", p: kg("6 a", "20 kg"), low: "2 mg", high: "4 mg"},
		{source: whoFormulary, drug: "diazepam", use: "convulsion-iv", p: kg("30 a", "50 kg"), low: "7.5 mg", high: "10 mg", suggested: "10 mg", volume: "2 mL"},
		{source: whoFormulary, drug: "diazepam", use: "convulsion-iv", p: kg("6 a", "20 kg"), low: "3 mg", high: "4 mg", suggested: "4 mg"},
		{source: msf, drug: "diazepam", use: "convulsion-rectal", p: kg("1 a", "10 kg"), low: "5 mg", high: "5 mg", suggested: "5 mg", volume: "1 mL"},
		{source: msf, drug: "diazepam", use: "convulsion-rectal", p: kg("8 a", "25 kg"), low: "10 mg", high: "10 mg", full: "12.5 mg"},
		{source: bnfc, drug: "diclofenac", use: "analgesia-oral", p: kg("6 a", "20 kg"), low: "20 mg", high: "20 mg"},
		{source: bnf, drug: "diclofenac", use: "analgesia-oral", p: man, low: "50 mg", high: "50 mg"},
		{source: bnfc, drug: "diclofenac", use: "analgesia-rectal", p: kg("6 a", "20 kg"), low: "20 mg", high: "20 mg"},
		{source: bnfc, drug: "ephedrine", use: "low-pressure-iv", p: kg("6 a", "20 kg"), low: "2 mg", high: "2 mg"},
		{source: "a tenth to a fifth of the dose with an inhibitor of monoamine oxidase (from memory)", drug: "ephedrine", use: "low-pressure-maoi-iv", p: woman, low: "1 mg", high: "1 mg"},
		{source: "the same", drug: "phenylephrine", use: "low-pressure-maoi-iv", p: woman, low: "10 ug", high: "10 ug"},
		{source: bnfc, drug: "phenylephrine", use: "low-pressure-iv", p: kg("6 a", "20 kg"), low: "20 ug", high: "40 ug"},
		{source: whoFormulary, drug: "ergometrine", use: "third-stage-im", p: woman, low: "200 ug", high: "500 ug"},
		{source: whoFormulary, drug: "ergometrine", use: "bleeding-iv", p: woman, low: "200 ug", high: "200 ug", volume: "1 mL"},
		{source: bnf, drug: "fentanyl", use: "breathing-iv", p: woman, low: "60 ug", high: "180 ug", suggested: "60 ug", volume: "1.2 mL"},
		{source: practice, drug: "fentanyl", use: "breathing-iv", p: kg("40 a", "90 kg"), low: "90 ug", high: "200 ug", full: "270 ug"},
		{source: bnfc, drug: "fentanyl", use: "breathing-iv", p: kg("6 a", "20 kg"), low: "20 ug", high: "40 ug", published: "60 ug", why: "1 to 2 micrograms/kg, 3 are published as the far end"},
		{source: bnf, drug: "fentanyl", use: "breathing-iv", p: kg("65 a", "60 kg"), low: "30 ug", high: "90 ug"},
		{source: bnf, drug: "fentanyl", use: "breathing-iv", p: woman, with: []term.Condition{term.ConditionGravelyIll}, low: "30 ug", high: "90 ug"},
		{source: bnf, drug: "fentanyl", use: "top-up-iv", p: woman, low: "25 ug", high: "50 ug"},
		{source: bnfc, drug: "fentanyl", use: "top-up-iv", p: kg("6 a", "20 kg"), low: "10 ug", high: "20 ug"},
		{source: bnf, drug: "fentanyl", use: "ventilated-iv", p: woman, with: []term.Condition{term.ConditionVentilated}, low: "180 ug", high: "300 ug", suggested: "180 ug", volume: "3.6 mL", published: "600 ug", why: "3 to 5 micrograms/kg, 10 are published as the far end"},
		{source: "textbooks of obstetric anaesthesia, 10 to 25 micrograms beside a spinal (from memory)", drug: "fentanyl", use: "spinal", p: woman, low: "10 ug", high: "25 ug"},
		{source: bnf, drug: "flumazenil", use: "reversal-step-iv", p: man, low: "100 ug", high: "100 ug", volume: "1 mL"},
		{source: bnfc, drug: "flumazenil", use: "reversal-iv", p: kg("3 a", "14 kg"), low: "140 ug", high: "140 ug"},
		{source: glucoseMemory, drug: "glucose-50", use: "low-glucose-child-iv", p: kg("1 a", "10 kg"), low: "2 g", high: "5 g", suggested: "2 g", volume: "20 mL"},
		{source: bnf, drug: "glucose-10", use: "low-glucose-iv", p: man, low: "15 g", high: "25 g"},
		{source: bnfcGlyco, drug: "glycopyrronium", use: "induction-iv", p: man, low: "200 ug", high: "400 ug"},
		{source: bnfcGlyco, drug: "glycopyrronium", use: "induction-iv", p: kg("6 a", "20 kg"), low: "80 ug", high: "160 ug"},
		// 200 micrograms for each mg of neostigmine: 2.5 mg of it for 50 kg.
		{source: bnf, drug: "glycopyrronium", use: "with-neostigmine", p: kg("40 a", "50 kg"), low: "500 ug", high: "500 ug"},
		{source: whoFormulary, drug: "atropine", use: "with-neostigmine", p: kg("40 a", "50 kg"), low: "1 mg", high: "1 mg"},
		{source: whoFormulary, drug: "atropine", use: "premedication-im", p: kg("70 a", "60 kg"), low: "150 ug", high: "300 ug", published: "400 ug", why: "the old have 0.3 to 0.4 mg: half of the usual, the lower of the two"},
		{source: bnfc, drug: "hydrocortisone", use: "bronchospasm", p: kg("6 a", "20 kg"), low: "80 mg", high: "80 mg"},
		{source: bnf, drug: "hydrocortisone", use: "bronchospasm", p: man, low: "100 mg", high: "200 mg"},
		{source: bnf, drug: "hydrocortisone", use: "steroid-cover", p: man, low: "100 mg", high: "100 mg", vials: 1},
		{source: whoFormulary, drug: "ketamine", use: "top-up-iv", p: man, low: "35 mg", high: "70 mg"},
		{source: whoFormulary, drug: "ketamine", use: "top-up-iv", p: kg("6 a", "20 kg"), low: "10 mg", high: "20 mg"},
		{source: practice + ": half of the first dose, 6 to 8 mg/kg", drug: "ketamine", use: "top-up-im", p: woman, low: "180 mg", high: "240 mg"},
		{source: practice, drug: "ketamine", use: "analgesia-iv", p: woman, low: "6 mg", high: "18 mg"},
		{source: practice, drug: "ketamine", use: "analgesia-infusion", p: woman, low: "6 mg/h", high: "18 mg/h", volume: "6 mL/h"},
		{source: practice, drug: "ketamine", use: "induction-im", p: woman, with: []term.Condition{term.ConditionShock}, low: "180 mg", high: "240 mg"},
		{source: starship, drug: "ketamine", use: "premedication-oral", p: kg("6 a", "20 kg"), low: "60 mg", high: "100 mg", published: "120 mg", why: "6 mg/kg alone in a trial that was read; 3 to 5 mg/kg are in the guideline"},
		{source: "antiarrhythmic dose, 1 to 1.5 mg/kg (from memory)", drug: "lidocaine", use: "arrest-iv", p: man, low: "70 mg", high: "100 mg", full: "105 mg"},
		{source: practice + ": 3 mg/kg at most under a year", drug: "lidocaine-adrenaline", use: "block", p: kg("8 mo", "8 kg"), low: "8 mg", high: "24 mg"},
		{source: six, drug: "lidocaine-adrenaline", use: "block", p: kg("3 mo", "5 kg"), low: "3.5 mg", high: "10.5 mg"},
		{source: whoFormulary, drug: "lidocaine-heavy", use: "spinal", p: kg("6 a", "20 kg"), low: "20 mg", high: "40 mg"},
		{source: practice + ": 30 % less over 65", drug: "lidocaine-heavy", use: "spinal", p: kg("70 a", "70 kg"), low: "35 mg", high: "52.5 mg"},
		{source: practice + ": 25 to 30 % less over 65", drug: "bupivacaine-heavy", use: "spinal", p: kg("70 a", "70 kg"), low: "7 mg", high: "10.5 mg"},
		{source: bnf, drug: "lidocaine", use: "block", p: kg("70 a", "60 kg"), low: "42 mg", high: "126 mg"},
		{source: bnf, drug: "bupivacaine", use: "block", p: kg("70 a", "60 kg"), low: "21 mg", high: "84 mg"},
		{source: bnf, drug: "lorazepam", use: "convulsion-iv", p: man, low: "4 mg", high: "4 mg", volume: "2 mL"},
		{source: bnfc, drug: "lorazepam", use: "convulsion-iv", p: kg("6 a", "20 kg"), low: "2 mg", high: "2 mg"},
		{source: bnf, drug: "midazolam", use: "sedation-iv", p: man, low: "2 mg", high: "2.5 mg", suggested: "2 mg", volume: "2 mL"},
		{source: bnfc, drug: "midazolam", use: "sedation-iv", p: kg("8 a", "24 kg"), low: "0.6 mg", high: "1.2 mg"},
		{source: bnfc, drug: "midazolam", use: "sedation-iv", p: kg("4 a", "16 kg"), low: "0.8 mg", high: "1.6 mg"},
		{source: bnf, drug: "midazolam", use: "sedation-iv", p: kg("70 a", "60 kg"), low: "1 mg", high: "1.25 mg"},
		{source: bnf, drug: "midazolam", use: "sedation-step-iv", p: man, low: "0.5 mg", high: "1 mg"},
		{source: bnf, drug: "midazolam", use: "premedication-im", p: woman, low: "4.2 mg", high: "5 mg", full: "6 mg"},
		{source: bnf, drug: "midazolam", use: "induction-iv", p: woman, low: "9 mg", high: "12 mg"},
		{source: rampart, drug: "midazolam", use: "convulsion-im", p: man, low: "10 mg", high: "10 mg", volume: "2 mL"},
		{source: rampart, drug: "midazolam", use: "convulsion-im", p: kg("5 a", "18 kg"), low: "5 mg", high: "5 mg", volume: "1 mL"},
		{source: whoFormulary, drug: "morphine", use: "analgesia-im", p: woman, low: "6 mg", high: "9 mg"},
		{source: whoFormulary, drug: "morphine", use: "analgesia-im", p: kg("6 a", "20 kg"), low: "1 mg", high: "2 mg"},
		{source: practice + ": a quarter over 75", drug: "morphine", use: "analgesia-im", p: kg("80 a", "60 kg"), low: "1.5 mg", high: "2.25 mg"},
		{source: practice + ": a quarter in grave illness", drug: "morphine", use: "analgesia-im", p: woman, with: []term.Condition{term.ConditionGravelyIll}, low: "1.5 mg", high: "2.25 mg"},
		{source: practice + ": a quarter in shock, into a vein", drug: "morphine", use: "theatre-iv", p: woman, with: []term.Condition{term.ConditionShock}, low: "0.75 mg", high: "1.5 mg"},
		{source: whoFormulary, drug: "morphine", use: "theatre-iv", p: woman, low: "3 mg", high: "6 mg"},
		{source: bnfc, drug: "morphine", use: "theatre-iv", p: kg("6 a", "20 kg"), low: "1 mg", high: "2 mg"},
		{source: msf, drug: "morphine", use: "titrated-iv", p: woman, low: "1 mg", high: "3 mg", suggested: "1 mg", volume: "1 mL"},
		{source: bnfc, drug: "morphine", use: "titrated-iv", p: kg("6 a", "20 kg"), low: "0.4 mg", high: "1 mg"},
		{source: bnfc, drug: "morphine", use: "titrated-iv", p: kg("8 mo", "8 kg"), low: "0.08 mg", high: "0.2 mg", published: "0.4 mg", why: "25 to 50 micrograms/kg under a year, or none: here from 10, 25 at most"},
		{source: bnfc, drug: "naloxone", use: "after-anaesthesia", p: kg("1 d", "3 kg"), low: "30 ug", high: "30 ug"},
		{source: bnf, drug: "neostigmine", use: "reversal-step-iv", p: man, low: "0.5 mg", high: "0.5 mg"},
		{source: whoFormulary, drug: "oxytocin", use: "bleeding-im", p: woman, low: "10 [IU]", high: "10 [IU]", volume: "1 mL"},
		{source: bnf, drug: "oxytocin", use: "bleeding-iv", p: woman, low: "5 [IU]", high: "5 [IU]", volume: "5 mL"},
		{source: bnf + ": 1 to 3 IU with a heart disease", drug: "oxytocin", use: "caesarean-iv", p: woman, with: []term.Condition{term.ConditionHeartFailure}, low: "1.2 [IU]", high: "2 [IU]"},
		{source: whoFormulary, drug: "paracetamol", use: "analgesia-rectal", p: woman, low: "500 mg", high: "1 g"},
		{source: bnfc, drug: "paracetamol", use: "analgesia-rectal-child", p: kg("6 a", "20 kg"), low: "200 mg", high: "300 mg"},
		{source: bnf, drug: "paracetamol", use: "analgesia-oral", p: woman, with: []term.Condition{term.ConditionFrail}, low: "375 mg", high: "750 mg"},
		{source: whoFormulary, drug: "pethidine", use: "analgesia-im", p: woman, low: "30 mg", high: "60 mg"},
		{source: bnfc, drug: "pethidine", use: "analgesia-im", p: kg("6 a", "20 kg"), low: "10 mg", high: "20 mg", published: "40 mg", why: "0.5 to 1 mg/kg, 2 are published as the most"},
		{source: practice + ": 25 mg first in the very old", drug: "pethidine", use: "analgesia-im", p: kg("80 a", "70 kg"), low: "12.25 mg", high: "24.5 mg"},
		{source: practice + ": 25 mg first in the gravely ill", drug: "pethidine", use: "analgesia-im", p: man, with: []term.Condition{term.ConditionGravelyIll}, low: "12.25 mg", high: "24.5 mg"},
		{source: bnf, drug: "pethidine", use: "titrated-iv", p: woman, low: "10 mg", high: "25 mg", suggested: "10 mg", volume: "1 mL"},
		{source: whoFormulary, drug: "promethazine", use: "premedication-oral", p: woman, low: "25 mg", high: "25 mg"},
		{source: whoFormulary, drug: "promethazine", use: "premedication-oral", p: kg("6 a", "20 kg"), low: "10 mg", high: "20 mg"},
		{source: whoFormulary, drug: "promethazine", use: "premedication-im", p: kg("3 a", "14 kg"), low: "7 mg", high: "12.5 mg", full: "14 mg"},
		{source: whoFormulary, drug: "promethazine", use: "premedication-im", p: kg("11 a", "35 kg"), low: "17.5 mg", high: "25 mg", full: "35 mg"},
		{source: bnf, drug: "promethazine", use: "antiemetic-im", p: woman, low: "12.5 mg", high: "25 mg"},
		{source: bnf, drug: "promethazine", use: "antiemetic-im", p: kg("70 a", "60 kg"), low: "6.25 mg", high: "12.5 mg"},
		{source: bnf, drug: "propofol", use: "infusion-iv", p: man, low: "280 mg/h", high: "840 mg/h", volume: "28 mL/h"},
		{source: bnf, drug: "propofol", use: "induction-iv", p: man, with: []term.Condition{term.ConditionGravelyIll}, low: "52.5 mg", high: "87.5 mg"},
		{source: bnfc, drug: "thiopental", use: "induction-iv", p: kg("6 a", "20 kg"), low: "60 mg", high: "140 mg"},
		{source: bnf, drug: "thiopental", use: "induction-iv", p: kg("80 a", "60 kg"), low: "90 mg", high: "150 mg"},
		{source: whoFormulary, drug: "suxamethonium", use: "top-up-iv", p: woman, low: "30 mg", high: "60 mg"},
		{source: bnfc, drug: "vecuronium", use: "top-up-iv", p: kg("6 mo", "6 kg"), low: "0.12 mg", high: "0.12 mg"},
		{source: bnf, drug: "vecuronium", use: "top-up-iv", p: kg("70 a", "60 kg"), low: "0.9 mg", high: "1.35 mg"},
		{source: bnf, drug: "atracurium", use: "top-up-iv", p: woman, low: "6 mg", high: "12 mg"},
		{source: bnf, drug: "atracurium", use: "infusion-iv", p: woman, low: "18 mg/h", high: "36 mg/h"},
		{source: bnf, drug: "rocuronium", use: "top-up-iv", p: woman, low: "6 mg", high: "9 mg"},
		{source: bnf, drug: "rocuronium", use: "top-up-iv", p: kg("70 a", "60 kg"), low: "4.5 mg", high: "6 mg"},
		{source: bnf, drug: "rocuronium", use: "infusion-iv", p: woman, low: "18 mg/h", high: "36 mg/h"},
		{source: bts, drug: "salbutamol", use: "spray", p: man, low: "400 ug", high: "1 mg"},
		{source: bnfc, drug: "salbutamol", use: "bronchospasm-iv", p: kg("6 a", "20 kg"), low: "100 ug", high: "250 ug", full: "300 ug"},
		{source: bts, drug: "magnesium-sulfate", use: "bronchospasm-iv", p: man, low: "2 g", high: "2 g", volume: "10 mL"},
		{source: bnfc, drug: "sodium-bicarbonate", use: "acidosis-infant-iv", p: kg("3 mo", "5 kg"), low: "5 mmol", high: "5 mmol", volume: "10 mL"},
		{source: bnf, drug: "calcium-gluconate", use: "potassium-iv", p: man, low: "1 g", high: "2 g"},
		{source: crash, drug: "tranexamic-acid", use: "injury-iv", p: man, low: "1 g", high: "1 g", volume: "10 mL"},
		{source: crash, drug: "tranexamic-acid", use: "injury-infusion", p: man, low: "125 mg/h", high: "125 mg/h"},
		{source: bnfc, drug: "tranexamic-acid", use: "injury-infusion", p: kg("6 a", "20 kg"), low: "40 mg/h", high: "40 mg/h"},
		{source: bnf, drug: "metoclopramide", use: "antiemetic-iv", p: man, with: []term.Condition{term.ConditionKidneyFailure}, low: "5 mg", high: "5 mg"},
		{source: bnfc, drug: "metoclopramide", use: "antiemetic-iv", p: kg("6 a", "20 kg"), low: "2 mg", high: "3 mg"},

		// Inhaled agents, % of a dial or of drops.
		{source: etherTeaching, drug: "ether", use: "induction", p: man, low: "5 %", high: "15 %"},
		{source: whoAnaes, drug: "ether", use: "breathing", p: man, low: "3 %", high: "8 %", published: "10 %", why: "3 to 5 % for light, up to 10 % for deep: over 8 % is a matter of a reason"},
		{source: korea, drug: "ether", use: "ventilated", p: man, low: "2 %", high: "4 %", suggested: "3 %"},
		{source: whoFormulary, drug: "halothane", use: "induction", p: man, low: "2 %", high: "3 %", published: "4 %", why: "2 to 4 % by the formulary, 2 to 3 % in practice"},
		{source: whoFormulary, drug: "halothane", use: "induction", p: kg("6 a", "20 kg"), low: "1.5 %", high: "2 %"},
		{source: whoFormulary, drug: "halothane", use: "maintenance", p: man, low: "0.5 %", high: "1.5 %", published: "2 %", why: "0.5 to 2 % by the formulary, 0.5 to 1.5 % in practice"},
		{source: bnf, drug: "isoflurane", use: "induction", p: man, low: "0.5 %", high: "3 %"},
		{source: bnf, drug: "isoflurane", use: "maintenance", p: man, low: "1 %", high: "2.5 %"},
		{source: bnf, drug: "sevoflurane", use: "induction", p: man, low: "0.5 %", high: "8 %"},
		{source: bnf, drug: "sevoflurane", use: "maintenance", p: man, low: "0.5 %", high: "3 %"},
		{source: bnf, drug: "enflurane", use: "induction", p: man, low: "0.5 %", high: "4.5 %"},
		{source: bnf, drug: "enflurane", use: "maintenance", p: man, low: "0.5 %", high: "3 %"},
		{source: bnf, drug: "desflurane", use: "induction", p: man, low: "4 %", high: "11 %"},
		{source: bnf, drug: "desflurane", use: "maintenance", p: man, low: "2.5 %", high: "8.5 %"},
		{source: bnf, drug: "nitrous-oxide", use: "with-agent", p: man, low: "50 %", high: "66 %", published: "70 %", why: "up to 70 % is published, with 30 % of oxygen"},
		{source: bnf, drug: "nitrous-oxide", use: "analgesia", p: man, low: "50 %", high: "50 %"},
	} {
		name := c.drug + " " + c.use + " " + c.p.Age.String() + " " + c.p.Weight.String()
		held[c.drug+" "+c.use] = true
		a, err := f.Reckon(Request{Drug: c.drug, Use: c.use, Patient: c.p, With: c.with})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !equal(a.Low, c.low) || !equal(a.High, c.high) {
			t.Errorf("%s: %s to %s, want %s to %s (%s)", name, a.Low, a.High, c.low, c.high, c.source)
		}
		if c.full != "" && !equal(a.Full.High, c.full) {
			t.Errorf("%s: %s before the cap, want %s", name, a.Full.High, c.full)
		}
		if c.suggested != "" && !equal(a.Suggested, c.suggested) {
			t.Errorf("%s: %s suggested, want %s: %s", name, a.Suggested, c.suggested, stepCodes(a))
		}
		got := a.Flow
		if got.IsZero() && a.Draw != nil {
			got = a.Draw.Volume
		}
		if c.volume != "" && !equal(got, c.volume) {
			t.Errorf("%s: %s, want %s: %s", name, got, c.volume, stepCodes(a))
		}
		if c.vials != 0 && (a.Draw == nil || a.Draw.Vials != c.vials) {
			t.Errorf("%s: %+v, want %d vials", name, a.Draw, c.vials)
		}
		if (c.published == "") != (c.why == "") {
			t.Errorf("%s: a difference without its reason, or the other way round", name)
		}
		if c.published != "" && rat(a.High).Cmp(in(am(c.published), a.High.Unit)) > 0 {
			t.Errorf("%s: %s, more than the source's %s", name, a.High, c.published)
		}
	}
	for _, d := range f.Drugs() {
		for _, u := range d.Uses {
			if !held[d.Code+" "+u.Code] {
				t.Errorf("%s %s: no row holds it to a source", d.Code, u.Code)
			}
		}
	}
}

// TestPublishedTotals holds what may be given in all to its source.
func TestPublishedTotals(t *testing.T) {
	f := builtins(t)
	man := pt("40 a", term.SexMale, "70 kg", "")
	for _, c := range []struct {
		source    string
		drug, use string
		p         patient.Patient
		most      string
	}{
		{aagbiLipid, "lipid-emulsion", "bolus-iv", man, "840 mL"}, // 12 mL/kg
		{aagbiLipid, "lipid-emulsion", "bolus-iv", man, "315 mL"}, // three times 1.5 mL/kg
		{orphanet, "dantrolene", "first-iv", man, "700 mg"},       // 10 mg/kg
		{whoFormulary, "paracetamol", "analgesia-iv", man, "4 g"},
		{whoFormulary, "paracetamol", "analgesia-iv", pt("30 a", "", "33 kg", ""), "1980 mg"}, // 60 mg/kg
		{bahamas, "bupivacaine", "block", man, "400 mg"},
		{whoFormulary, "atropine", "slow-pulse", man, "3 mg"},
		{whoFormulary, "atropine", "slow-pulse", pt("6 a", "", "20 kg", ""), "800 ug"}, // 40 micrograms/kg
		{whoFormulary, "thiopental", "induction-iv", man, "500 mg"},
		{whoFormulary, "suxamethonium", "relaxation-iv", man, "500 mg"},
		{whoFormulary, "neostigmine", "reversal-step-iv", man, "5 mg"},
		{whoFormulary, "naloxone", "overdose", man, "10 mg"},
		{whoFormulary, "pethidine", "analgesia-im", man, "400 mg"},
		{"a guard, 8 mg/kg by vein in 2 h (from memory)", "ketamine", "induction-iv", man, "560 mg"},
		{usLabel, "ketamine", "induction-im", man, "910 mg"}, // 13 mg/kg
		{bnf, "hyoscine", "premedication-im", man, "1.8 mg"},
		{bnf, "promethazine", "premedication-im", man, "100 mg"},
		{practice, "fentanyl", "breathing-iv", man, "350 ug"}, // 5 micrograms/kg
		{whoFormulary, "diazepam", "sedation-iv", man, "30 mg"},
		{whoFormulary, "diazepam", "convulsion-iv", man, "20 mg"},
		{bnf, "midazolam", "sedation-iv", man, "7.5 mg"},
		{bnf, "midazolam", "sedation-iv", pt("70 a", "", "60 kg", ""), "3.5 mg"},
		{bnfc, "midazolam", "sedation-iv", pt("8 a", "", "30 kg", ""), "10 mg"},
		{bnfc, "midazolam", "sedation-iv", pt("4 a", "", "16 kg", ""), "6 mg"},
		{bnf, "ephedrine", "low-pressure-iv", man, "30 mg"},
		{whoFormulary, "lidocaine", "block", pt("6 a", "", "20 kg", ""), "60 mg"},         // 3 mg/kg
		{etg, "lidocaine-adrenaline", "block", pt("6 a", "", "20 kg", ""), "140 mg"},      // 7 mg/kg
		{bahamas, "bupivacaine", "block", pt("6 a", "", "20 kg", ""), "40 mg"},            // 2 mg/kg in 4 h
		{bnfc, "paracetamol", "analgesia-iv-small", pt("6 mo", "", "8 kg", ""), "240 mg"}, // 30 mg/kg
		{whoFormulary, "bupivacaine-heavy", "spinal", man, "20 mg"},
		{whoFormulary, "lidocaine-heavy", "spinal", man, "100 mg"},
		{bnf, "diclofenac", "analgesia-im", man, "150 mg"},
		{bnfc, "diclofenac", "analgesia-oral", pt("6 a", "", "20 kg", ""), "60 mg"}, // 1 mg/kg three times
		{bnf, "ondansetron", "antiemetic-iv", man, "16 mg"},
		{bnf, "metoclopramide", "antiemetic-iv", man, "30 mg"},
		{bnf, "metoclopramide", "antiemetic-iv", pt("30 a", "", "50 kg", ""), "25 mg"}, // 0.5 mg/kg
		{bnf, "flumazenil", "reversal-iv", man, "1 mg"},
		{bnfc, "flumazenil", "reversal-iv", pt("3 a", "", "14 kg", ""), "700 ug"}, // 50 micrograms/kg
		{bnf, "hydrocortisone", "anaphylaxis", man, "400 mg"},
		{bnf, "hydrocortisone", "steroid-cover", man, "300 mg"},
		{bnf, "chlorphenamine", "anaphylaxis", man, "40 mg"},
		{whoFormulary, "oxytocin", "third-stage-im", pt("30 a", term.SexFemale, "60 kg", ""), "60 [IU]"},
		{whoFormulary, "ergometrine", "bleeding-im", pt("30 a", term.SexFemale, "60 kg", ""), "1 mg"},
		{whoFormulary, "tranexamic-acid", "after-birth-iv", pt("30 a", term.SexFemale, "60 kg", ""), "2 g"},
		{bnf, "calcium-gluconate", "potassium-iv", man, "3 g"},
		{teachingLA, "adrenaline", "infiltration", man, "500 ug"},
		{whoHalothane, "adrenaline", "infiltration-halothane", man, "100 ug"},
		{magee, "hydralazine", "high-pressure-iv", pt("30 a", term.SexFemale, "60 kg", ""), "20 mg"},
		{magee, "labetalol", "high-pressure-again-iv", pt("30 a", term.SexFemale, "60 kg", ""), "300 mg"},
		{"WHO, Managing complications in pregnancy and childbirth, 2017 (from memory)", "nifedipine", "high-pressure-oral", pt("30 a", term.SexFemale, "60 kg", ""), "30 mg"},
		{whoFormulary, "diazepam", "convulsion-step-iv", man, "20 mg"},
	} {
		a := reckon(t, f, Request{Drug: c.drug, Use: c.use, Patient: c.p})
		if !slices.ContainsFunc(a.Board, func(b Board) bool { return equal(b.Most, c.most) }) {
			t.Errorf("%s %s: %+v, want a total of %s (%s)", c.drug, c.use, a.Board, c.most, c.source)
		}
	}
}

// TestPublishedTimes holds when a drug is given, how soon and how long it
// works, how soon again, and over how long it goes in. Where a source has a span
// until the next dose, the rule has its short end, unless why says so. Times
// without a published value here are not asked; every premedication has a window.
func TestPublishedTimes(t *testing.T) {
	f := builtins(t)
	held := map[string]bool{}
	for _, c := range []struct {
		source, drug, use                    string
		before, onset, lasts, interval, over string // "low to high"; empty: not asked
		why                                  string
	}{
		{source: martindale, drug: "atropine", use: "premedication-im", before: "30 min to 60 min", why: "the label has an hour into muscle for the grown-up, 30 to 60 min for a child"},
		{source: bnf, drug: "glycopyrronium", use: "premedication-im", before: "30 min to 60 min"},
		{source: bnf, drug: "hyoscine", use: "premedication-im", before: "30 min to 60 min", interval: "6 h"},
		{source: whoFormulary, drug: "morphine", use: "premedication-im", before: "60 min to 90 min", interval: "4 h"},
		{source: whoFormulary, drug: "pethidine", use: "premedication-im", before: "45 min to 60 min", interval: "4 h", why: "every 2 to 4 h are published: the longer"},
		{source: whoFormulary, drug: "diazepam", use: "premedication-oral", before: "60 min to 120 min", interval: "4 h"},
		{source: bnf, drug: "midazolam", use: "premedication-im", before: "20 min to 60 min"},
		{source: highland, drug: "midazolam", use: "premedication-oral", before: "30 min to 30 min"},
		{source: highland, drug: "clonidine", use: "premedication-oral", before: "60 min to 60 min"},
		{source: highland, drug: "lorazepam", use: "premedication-oral", before: "60 min to 60 min"},
		{source: whoFormulary, drug: "promethazine", use: "premedication-im", before: "60 min to 60 min", interval: "6 h"},
		{source: whoFormulary, drug: "promethazine", use: "premedication-oral", before: "60 min to 60 min", interval: "6 h"},
		{source: "a trial of ketamine by mouth, 30 min before (read)", drug: "ketamine", use: "premedication-oral", before: "20 min to 30 min"},

		{source: whoFormulary, drug: "morphine", use: "analgesia-im", interval: "4 h"},
		{source: bnf, drug: "morphine", use: "theatre-iv", interval: "40 min"},
		{source: msf, drug: "morphine", use: "titrated-iv", interval: "5 min"},
		{source: whoFormulary, drug: "pethidine", use: "analgesia-im", interval: "4 h", why: "every 2 to 4 h are published: the longer"},
		{source: bnf, drug: "fentanyl", use: "breathing-iv", lasts: "20 min to 30 min", interval: "20 min"},
		{source: bnf, drug: "diazepam", use: "convulsion-iv", interval: "5 min"},
		{source: bnf, drug: "midazolam", use: "sedation-iv", interval: "2 min"},
		{source: bnf, drug: "midazolam", use: "sedation-step-iv", interval: "2 min"},

		{source: bnfc631, drug: "ketamine", use: "induction-iv", lasts: "5 min to 10 min", interval: "10 min", over: "1 min to 2 min"},
		{source: surgical, drug: "ketamine", use: "induction-im", onset: "3 min to 5 min", lasts: "10 min to 15 min", interval: "10 min", why: "10 mg/kg last 12 to 25 min (BNF for Children, read): the shorter, at 6 to 8 mg/kg"},
		{source: practice, drug: "ketamine", use: "top-up-im", interval: "10 min"},
		{source: whoFormulary, drug: "ketamine", use: "top-up-iv", lasts: "10 min to 20 min", interval: "10 min"},
		{source: whoFormulary, drug: "thiopental", use: "induction-iv", interval: "30 s"},
		{source: whoFormulary, drug: "suxamethonium", use: "relaxation-iv", lasts: "5 min to 10 min"},
		{source: whoFormulary, drug: "suxamethonium", use: "relaxation-im", onset: "2 min to 3 min"},
		{source: algorithm, drug: "suxamethonium", use: "laryngospasm-im", onset: "2 min to 3 min"},
		{source: whoFormulary, drug: "vecuronium", use: "relaxation-iv", lasts: "20 min to 40 min"},
		{source: bnf, drug: "atracurium", use: "top-up-iv", lasts: "15 min to 25 min", interval: "15 min"},
		{source: bnf, drug: "rocuronium", use: "relaxation-iv", lasts: "20 min to 40 min"},

		{source: resusALS, drug: "adrenaline", use: "arrest", interval: "3 min"},
		{source: resusBirth, drug: "adrenaline", use: "arrest-newborn", interval: "3 min"},
		{source: resus2021, drug: "adrenaline", use: "anaphylaxis-im", interval: "5 min"},
		{source: whoHalothane, drug: "adrenaline", use: "infiltration-halothane", interval: "10 min"},
		{source: whoFormulary, drug: "atropine", use: "slow-pulse", interval: "3 min"},
		{source: magee, drug: "hydralazine", use: "high-pressure-iv", interval: "20 min", why: "every 5 (WHO), 20 to 40 (United States) and 30 min are published: it works late"},
		{source: whoBirth, drug: "labetalol", use: "high-pressure-iv", interval: "10 min"},
		{source: magee, drug: "nifedipine", use: "high-pressure-oral", interval: "30 min"},
		{source: bnf, drug: "ephedrine", use: "low-pressure-iv", interval: "3 min"},
		{source: bnf, drug: "phenylephrine", use: "low-pressure-iv", interval: "2 min"},
		{source: bnf, drug: "lidocaine", use: "block", interval: "2 h", why: "1.5 to 2 h are published: the longer"},
		{source: bnf, drug: "lidocaine-adrenaline", use: "block", interval: "2 h", why: "1.5 to 2 h are published: the longer"},
		{source: bahamas, drug: "bupivacaine", use: "block", interval: "4 h"},
		{source: aagbiLipid, drug: "lipid-emulsion", use: "bolus-iv", interval: "5 min", over: "1 min to 1 min"},
		{source: bnf, drug: "dantrolene", use: "again-iv", interval: "5 min", why: "every 10 min by the European group, every 5 min by the formulary"},

		{source: whoFormulary, drug: "paracetamol", use: "analgesia-oral", interval: "4 h"},
		{source: bnf, drug: "paracetamol", use: "analgesia-iv", interval: "4 h"},
		{source: bnf, drug: "diclofenac", use: "analgesia-im", interval: "12 h"},
		{source: bnf, drug: "diclofenac", use: "analgesia-oral", interval: "8 h"},
		{source: bnf, drug: "ondansetron", use: "antiemetic-iv", interval: "6 h"},
		{source: bnf, drug: "dexamethasone", use: "antiemetic-iv", interval: "12 h"},
		{source: bnf, drug: "metoclopramide", use: "antiemetic-iv", interval: "8 h", over: "2 min to 3 min"},
		{source: bnf, drug: "naloxone", use: "after-anaesthesia", lasts: "30 min to 90 min", interval: "2 min"},
		{source: bnf, drug: "flumazenil", use: "reversal-iv", interval: "1 min", over: "15 s to 15 s"},
		{source: bnf, drug: "hydrocortisone", use: "anaphylaxis", interval: "6 h"},
		{source: whoFormulary, drug: "ergometrine", use: "bleeding-im", interval: "15 min", why: "once after 15 min, then every 2 to 4 h: 500 micrograms in 2 h at most"},
		{source: "WHO, postpartum haemorrhage: tranexamic acid, 2017 (from memory)", drug: "tranexamic-acid", use: "after-birth-iv", interval: "30 min", over: "10 min to 10 min"},
		{source: crash, drug: "tranexamic-acid", use: "injury-iv", interval: "8 h", over: "10 min to 10 min"},
		{source: whoFormulary, drug: "glucose-50", use: "low-glucose-iv", interval: "10 min"},
		{source: bnf, drug: "calcium-gluconate", use: "potassium-iv", interval: "10 min", over: "3 min to 10 min"},
		{source: bnf, drug: "sodium-bicarbonate", use: "acidosis-iv", interval: "10 min"},
		{source: whoFormulary, drug: "salbutamol", use: "nebule", interval: "15 min"},
		{source: bnf, drug: "salbutamol", use: "bronchospasm-iv", over: "5 min to 5 min"},
		{source: whoFormulary, drug: "magnesium-sulfate", use: "eclampsia-iv", over: "5 min to 20 min"},
		{source: whoFormulary, drug: "magnesium-sulfate", use: "eclampsia-im", interval: "4 h"},
		{source: bts, drug: "magnesium-sulfate", use: "bronchospasm-iv", over: "20 min to 20 min"},
	} {
		u := f.Find(c.drug).Use(c.use)
		if u == nil {
			t.Errorf("%s has no %s", c.drug, c.use)
			continue
		}
		held[c.drug+" "+c.use] = true
		span := func(s Span) string { return s.Low.String() + " to " + s.High.String() }
		for _, x := range []struct{ what, got, want string }{
			{"before", span(u.Before), c.before}, {"onset", span(u.Onset), c.onset}, {"lasts", span(u.Lasts), c.lasts},
			{"interval", u.Interval.String(), c.interval}, {"over", span(u.Over), c.over},
		} {
			if x.want != "" && x.got != x.want {
				t.Errorf("%s %s: %s %s, want %s (%s; %s)", c.drug, c.use, x.what, x.got, x.want, c.source, c.why)
			}
		}
	}
	for _, d := range f.Drugs() {
		for _, u := range d.Uses {
			if !u.Before.IsZero() && !held[d.Code+" "+u.Code] {
				t.Errorf("%s %s: no row holds its window to a source", d.Code, u.Code)
			}
		}
	}
}

// TestPublishedStrengths: what stands on the shelf. An ampoule that is ten
// times as strong as the file has it is a tenfold dose.
func TestPublishedStrengths(t *testing.T) {
	f := builtins(t)
	for _, c := range []struct{ source, drug, want string }{
		{whoFormulary, "adrenaline", "1 mg/mL, 0.1 mg/mL"},
		{whoFormulary, "atropine", "600 ug/mL, 1 mg/mL"},
		{bnf, "glycopyrronium", "200 ug/mL"},
		{bnf, "hyoscine", "400 ug/mL, 600 ug/mL"},
		{whoFormulary, "morphine", "10 mg/mL, 15 mg/mL"},
		{whoFormulary, "pethidine", "50 mg/mL"},
		{bnf, "fentanyl", "50 ug/mL"},
		{whoFormulary, "diazepam", "5 mg/mL"},
		{bnf, "midazolam", "1 mg/mL, 2 mg/mL, 5 mg/mL"},
		{whoFormulary, "promethazine", "25 mg/mL"},
		{"labels of the Food and Drug Administration, 10 and 100 mg/mL; WHO model list, 50 mg/mL (read)", "ketamine", "50 mg/mL, 10 mg/mL, 100 mg/mL"},
		{whoFormulary, "thiopental", "25 mg/mL"},
		{bnf, "propofol", "10 mg/mL"},
		{whoFormulary, "suxamethonium", "50 mg/mL"},
		{whoFormulary, "vecuronium", "1 mg/mL"},
		{bnf, "atracurium", "10 mg/mL"},
		{bnf, "rocuronium", "10 mg/mL"},
		{whoFormulary, "neostigmine", "2.5 mg/mL, 0.5 mg/mL"},
		{bnf, "ephedrine", "30 mg/mL, 50 mg/mL"},
		{bnf, "phenylephrine", "10 mg/mL, 100 ug/mL"},
		{bnf, "lidocaine", "10 mg/mL, 20 mg/mL, 5 mg/mL"},
		{bnf, "bupivacaine", "5 mg/mL, 2.5 mg/mL"},
		{whoFormulary, "bupivacaine-heavy", "5 mg/mL"},
		{whoFormulary, "lidocaine-heavy", "50 mg/mL"},
		{bnf, "paracetamol", "10 mg/mL, 25 mg/mL"},
		{bnf, "diclofenac", "25 mg/mL"},
		{bnf, "ondansetron", "2 mg/mL"},
		{bnf, "dexamethasone", "4 mg/mL"},
		{whoFormulary, "metoclopramide", "5 mg/mL"},
		{whoFormulary, "naloxone", "400 ug/mL"},
		{bnf, "flumazenil", "100 ug/mL"},
		{whoFormulary, "hydrocortisone", "50 mg/mL"},
		{whoFormulary, "oxytocin", "10 [IU]/mL, 5 [IU]/mL"},
		{whoFormulary, "ergometrine", "200 ug/mL, 500 ug/mL"},
		{whoFormulary, "tranexamic-acid", "100 mg/mL"},
		{whoFormulary, "glucose-50", "500 mg/mL"},
		{bnf, "glucose-10", "100 mg/mL"},
		{bnf, "calcium-gluconate", "100 mg/mL"},
		{bnf, "sodium-bicarbonate", "1 mmol/mL"},
		{aagbiLipid, "lipid-emulsion", "200 mg/mL"},
		{orphanet, "dantrolene", "0.333 mg/mL"}, // 20 mg in 60 mL
		{bnf, "salbutamol", "1 mg/mL, 2 mg/mL, 500 ug/mL"},
		{whoFormulary, "magnesium-sulfate", "500 mg/mL"},
		{bnf, "chlorphenamine", "10 mg/mL"},
		{bnf, "hydralazine", "20 mg/mL"},
		{bnf, "labetalol", "5 mg/mL"},
	} {
		var got []string
		for _, p := range f.Find(c.drug).Presentations {
			if s := p.Strength.String(); s != "" && !slices.Contains(got, s) {
				got = append(got, s)
			}
		}
		if s := strings.Join(got, ", "); s != c.want {
			t.Errorf("%s: %s, want %s (%s)", c.drug, s, c.want, c.source)
		}
	}
}

// TestPublishedDiffer: where two published doses differ, which of them the rule
// gives, and why. A rule that is over the other says so.
func TestPublishedDiffer(t *testing.T) {
	f := builtins(t)
	const (
		ascia = "Australasian Society of Clinical Immunology and Allergy: 10 micrograms/kg, 500 at most (read)"
		bands = "Martindale Pharma, Atropine sulfate injection, UK product characteristics, bands of weight under the skin (read)"
		byAge = "by age nobody has to weigh or reckon first; the ampoule and the interval are the same"
		byKg  = "20 micrograms/kg are in the same label, and in the others"
	)
	kg := func(age, weight string) patient.Patient { return pt(age, "", weight, "") }
	man := kg("40 a", "70 kg")
	for _, c := range []struct {
		drug, use string
		p         patient.Patient
		given     string // the most that may be given at once by the rule
		other     string // what the other source has
		source    string // the other source
		over      bool   // the rule has more
		why       string
	}{
		{"adrenaline", "anaphylaxis-im", kg("1 a", "10 kg"), "150 ug", "100 ug", ascia, true, byAge},
		{"adrenaline", "anaphylaxis-im", kg("4 a", "15 kg"), "150 ug", "150 ug", ascia, false, "the same"},
		{"adrenaline", "anaphylaxis-im", kg("6 a", "20 kg"), "300 ug", "200 ug", ascia, true, byAge},
		{"adrenaline", "anaphylaxis-im", kg("9 a", "30 kg"), "300 ug", "300 ug", ascia, false, "the same"},
		{"adrenaline", "anaphylaxis-im", kg("12 a", "40 kg"), "500 ug", "400 ug", ascia, true, byAge + "; 300 for who is small"},
		{"adrenaline", "anaphylaxis-im", kg("15 a", "55 kg"), "500 ug", "500 ug", ascia, false, "the same"},

		{"atropine", "premedication-im", kg("1 d", "1.5 kg"), "15 ug", "65 ug", bands + ", premature", false, "10 micrograms/kg for the newborn; the least dose is no longer advised"},
		{"atropine", "premedication-im", kg("1 d", "3 kg"), "30 ug", "100 ug", bands, false, "the same"},
		{"atropine", "premedication-im", kg("1 a", "9 kg"), "180 ug", "200 ug", bands, false, "by weight"},
		{"atropine", "premedication-im", kg("2 a", "12 kg"), "240 ug", "300 ug", bands, false, "by weight"},
		{"atropine", "premedication-im", kg("4 a", "16 kg"), "320 ug", "300 ug", bands, true, byKg},
		{"atropine", "premedication-im", kg("6 a", "20 kg"), "400 ug", "400 ug", bands, false, "the same"},
		{"atropine", "premedication-im", kg("8 a", "27 kg"), "540 ug", "400 ug", bands, true, byKg},
		{"atropine", "premedication-im", kg("9 a", "32 kg"), "600 ug", "500 ug", bands, true, byKg + "; 600 at most"},
		{"atropine", "premedication-im", kg("11 a", "41 kg"), "600 ug", "600 ug", bands, false, "the same"},
		{"atropine", "slow-pulse", man, "1 mg", "1.2 mg", qrh311, false, "1 mg at once, again after 3 min"},

		{"bupivacaine", "block", man, "140 mg", "210 mg", ome + ": with adrenaline 3 mg/kg", false, "2 mg/kg with it or without (Therapeutic Guidelines, read)"},
		{"bupivacaine", "block", kg("40 a", "100 kg"), "150 mg", "175 mg", "US product label, 225 mg with adrenaline (second-hand)", false, "150 mg (British National Formulary, from memory)"},
		{"bupivacaine", "block", kg("6 a", "20 kg"), "40 mg", "50 mg", bahamas + ": regional 2.5 mg/kg in a child", false, "2 mg/kg, as for infiltration"},
		{"lidocaine", "block", man, "200 mg", "300 mg", "US product label, 4.5 mg/kg, 300 mg (second-hand)", false, "3 mg/kg, 200 mg"},
		{"lidocaine", "block", man, "200 mg", "280 mg", "WHO Model Formulary, 2008, 4 mg/kg (from memory)", false, "3 mg/kg, 200 mg"},
		{"prilocaine", "block", man, "350 mg", "420 mg", etg + ": 6 mg/kg; 7.5 with adrenaline by Oxford Medical Education (read)", false, "5 mg/kg"},

		{"ephedrine", "low-pressure-iv", man, "15 mg", "9 mg", bnf, true, "15 mg are in the consensus of 2022, which was read; over 6 mg is a matter of a reason"},
		{"phenylephrine", "low-pressure-iv", man, "100 ug", "200 ug", bnf, false, "50 to 100 micrograms (consensus of 2022, read)"},
		{"ketamine", "induction-im", man, "700 mg", "910 mg", usLabel + ": 13 mg/kg", false, "10 mg/kg"},
		{"midazolam", "premedication-oral", kg("10 a", "40 kg"), "15 mg", "20 mg", starship + ": 0.5 to 0.8 mg/kg, 20 mg", false, "15 and 20 mg are both published: the lower"},
		{"dantrolene", "first-iv", man, "175 mg", "210 mg", "Association of Anaesthetists, 2020, 2 to 3 mg/kg (from memory)", false, "2.5 mg/kg"},
		{"morphine", "premedication-im", man, "10 mg", "15 mg", bnf, false, "10 mg"},
		{"diazepam", "convulsion-iv", man, "10 mg", "20 mg", bnf, false, "10 mg at once, 20 in all"},
	} {
		a := reckon(t, f, Request{Drug: c.drug, Use: c.use, Patient: c.p})
		name := c.drug + " " + c.use + " of " + c.p.Weight.String()
		if !equal(a.Limit, c.given) {
			t.Errorf("%s: %s at most, want %s", name, a.Limit, c.given)
		}
		if over := rat(a.Limit).Cmp(in(am(c.other), a.Limit.Unit)) > 0; over != c.over {
			t.Errorf("%s: %s, against %s (%s): over it %t, want %t: %s", name, a.Limit, c.other, c.source, over, c.over, c.why)
		}
	}
}

// TestPublishedEquivalents sums opioids in morphine as the equianalgesic tables
// do, where they have a span by its end that counts for more: 75 to 100 mg of
// pethidine and 100 micrograms of fentanyl are 10 mg of morphine.
func TestPublishedEquivalents(t *testing.T) {
	f := builtins(t)
	// The guard: 0.4 mg/kg of 60 kg are 24 mg.
	r := Request{Drug: "morphine", Use: "analgesia-im", Patient: pt("30 a", "", "60 kg", "")}
	for _, c := range []struct{ source, drug, dose, used, left string }{
		{equianalgesic, "morphine", "10 mg", "10 mg", "14 mg"},
		{equianalgesic, "pethidine", "75 mg", "10 mg", "14 mg"},
		{equianalgesic, "fentanyl", "100 ug", "10 mg", "14 mg"},
		{equianalgesic, "fentanyl", "10 ug", "1 mg", "23 mg"},
		{equianalgesic, "pethidine", "150 mg", "20 mg", "4 mg"},
	} {
		r.Given = []Given{gave(c.drug, "", c.dose, "1 h")}
		a := reckon(t, f, r)
		i := slices.IndexFunc(a.Board, func(b Board) bool { return b.Group == Opioids })
		if i < 0 || !equal(a.Board[i].Used, c.used) || !equal(a.Board[i].Left, c.left) {
			t.Errorf("%s of %s: %+v, want %s used and %s left (%s)", c.dose, c.drug, a.Board, c.used, c.left, c.source)
		}
	}
	// 10 mg of morphine more than the 4 that are left is over the guard.
	v, err := f.Judge(r, am("10 mg"))
	if err != nil || !slices.ContainsFunc(v.Exceeds, func(e Excess) bool {
		return e.Code == OverTotal && e.Of == string(Opioids) && equal(e.Dose, "30 mg") && equal(e.Limit, "24 mg")
	}) {
		t.Errorf("%+v, %v", v, err)
	}
}

// TestPublishedGrains: what the grains of the old books are in milligrams (1
// grain = 64.79891 mg, NIST Handbook 44, appendix C), and what today's rules
// flag of them: common practice of its time, no source, and no suggestion.
func TestPublishedGrains(t *testing.T) {
	f := builtins(t)
	man, woman := pt("40 a", term.SexMale, "70 kg", ""), pt("30 a", term.SexFemale, "60 kg", "")
	for _, c := range []struct {
		drug, grains string
		p            patient.Patient
		mg, exceeds  string
	}{
		{"morphine", "1/4 gr", man, "16.199727 mg", "over-single over-range"},
		{"morphine", "1/6 gr", woman, "10.799818 mg", "over-single"},
		{"morphine", "1/8 gr", woman, "8.099863 mg", ""},
		{"morphine", "1/12 gr", woman, "5.399909 mg", "under"},
		{"atropine", "1/100 gr", man, "0.647989 mg", "over-single over-range"},
		{"atropine", "1/120 gr", man, "0.53999 mg", ""},
		{"atropine", "1/150 gr", man, "0.431992 mg", ""},
		{"atropine", "1/200 gr", man, "0.323994 mg", ""},
		{"hyoscine", "1/64 gr", man, "1.012482 mg", "over-single over-range"},
		{"hyoscine", "1/100 gr", man, "0.647989 mg", "over-single over-range"},
		{"hyoscine", "1/120 gr", man, "0.53999 mg", ""},
		{"hyoscine", "1/150 gr", man, "0.431992 mg", ""},
	} {
		dose, err := quantity.ParseEntry(c.grains, quantity.Grain)
		if err != nil {
			t.Fatal(err)
		}
		// Three quarters of an hour before the start.
		g := Given{Drug: c.drug, Use: "premedication-im", Dose: dose, Ago: am("15 min")}
		p, err := f.WasGiven(Request{Drug: c.drug, Use: "premedication-im", Patient: c.p}, &g, am("30 min"))
		if err != nil {
			t.Errorf("%s %s: %v", c.drug, c.grains, err)
			continue
		}
		want := c.exceeds
		if want == "under" {
			want = ""
			if p.Much != Less {
				t.Errorf("%s %s: %s, want less than the rule", c.drug, c.grains, p.Much)
			}
		}
		if got := amountDown(in(p.Dose, quantity.Mg), decimals, quantity.Mg); !equal(got, c.mg) || exceeds(Verdict{Exceeds: p.Exceeds}) != want {
			t.Errorf("%s %s: %s, %q; want %s, %q", c.drug, c.grains, got, exceeds(Verdict{Exceeds: p.Exceeds}), c.mg, want)
		}
		// 60 to 90 minutes for morphine into muscle; 30 to 60 for the others.
		if time := map[bool]Timing{true: Late, false: InTime}[c.drug == "morphine"]; p.Time != time {
			t.Errorf("%s: %s at 45 minutes, want %s", c.drug, p.Time, time)
		}
	}
}

// TestPublishedExample: 70 kg, lidocaine 1 %, 3 mg/kg = 210 mg = 21 mL (Oxford
// Medical Education, read) against 200 mg whatever the weight. Both are shown:
// the working goes from the one to the other.
func TestPublishedExample(t *testing.T) {
	a := reckon(t, builtins(t), Request{Drug: "lidocaine", Use: "block", Patient: pt("40 a", "", "70 kg", ""), Presentation: "1-percent"})
	i := slices.IndexFunc(a.Steps, func(s Step) bool { return s.Code == StepCapped && s.Of == string(LimitMost) })
	if i < 0 || !equal(a.Steps[i].Values[0].Amount, "210 mg") || !equal(a.Steps[i].Values[1].Amount, "200 mg") || a.Steps[i].Source.Title == "" ||
		!equal(a.Full.High, "210 mg") || !equal(a.Limit, "200 mg") || !equal(a.LimitVolume, "20 mL") {
		t.Errorf("%s; %s, limit %s in %s", stepCodes(a), a.Full.High, a.Limit, a.LimitVolume)
	}
	a = reckon(t, builtins(t), Request{Drug: "lidocaine-adrenaline", Use: "block", Patient: pt("40 a", "", "70 kg", ""), Presentation: "1-percent"})
	if !equal(a.Limit, "490 mg") || !equal(a.LimitVolume, "49 mL") {
		t.Errorf("with adrenaline: limit %s in %s", a.Limit, a.LimitVolume)
	}
}

// TestPublishedRefusals: what no source gives a dose for.
func TestPublishedRefusals(t *testing.T) {
	f := builtins(t)
	for _, c := range []struct {
		why, drug, use string
		p              patient.Patient
	}{
		{"never under 2 years (BNF for Children, from memory)", "promethazine", "premedication-im", pt("1 a", "", "10 kg", "")},
		{"4 mg/kg for the newborn is published (BNF for Children, read), under 3 months by experts alone: no rule here", "ketamine", "induction-im", pt("7 d", "", "3 kg", "")},
		{"no opioid before anaesthesia under a year", "morphine", "premedication-im", pt("6 mo", "", "7 kg", "")},
	} {
		a, err := f.Reckon(Request{Drug: c.drug, Use: c.use, Patient: c.p})
		var e *Error
		if !as(err, &e) || e.Code != patient.NoRule {
			t.Errorf("%s %s: %s, %v; %s", c.drug, c.use, a.Suggested, err, c.why)
		}
	}
}
