package plain

import (
	"cmp"
	"context"
	"encoding/json"
	"io"
	"reflect"
	"slices"
	"strings"

	"github.com/google/uuid"

	"chinlift/core"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Systems of codes and identifiers. Ours are not registered anywhere, which
// the x- says.
const (
	loinc        = "http://loinc.org"
	ucum         = "http://unitsofmeasure.org"
	snomed       = "http://snomed.info/sct"
	atcIndex     = "http://www.whocc.no/atc"
	uriSystem    = "urn:ietf:rfc:3986"
	categories   = "http://terminology.hl7.org/CodeSystem/observation-category"
	absentReason = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
	// The same reasons, on a member that is not there.
	absentExtension = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
	operations      = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"

	ownEntry   = "urn:x-chinlift:entry"   // identifier: the entry that a resource tells of
	ownVersion = "urn:x-chinlift:version" // identifier: the version of it
	ownNumber  = "urn:x-chinlift:number"  // identifier: a record number of the clinic
	ownKind    = "urn:x-chinlift:kind:"   // + kind: codes are the members of its data
	ownCode    = "urn:x-chinlift:code:"   // + kind.member: codes are those of its list
	ownList    = "urn:x-chinlift:list:"   // + equipment list
	ownAct     = "urn:x-chinlift:act"     // anaesthetic, operation
	ownReason  = "urn:x-chinlift:reason"  // of a correction
	ownKit     = "urn:x-chinlift:kit"     // how an item of equipment was found
	ownAnswer  = "urn:x-chinlift:answer"  // what will be done about it
	ownStand   = "urn:x-chinlift:stand"   // how a dose stood to the dose rules; see stand
	ownWhy     = "urn:x-chinlift:why"     // why no dose rule judged it
)

// measureCodes are the LOINC codes of what is measured, by member and,
// where the code depends on it, the unit. All pass LOINC's check digit
// (Mod 10); a test works it out.
//
// Read in HL7's FHIR R4 vital signs profiles: 8867-4, 8480-6, 8462-4, 85354-9,
// 2708-6, 59408-5, 9279-1, 8310-5, 29463-7, 8302-2. Read in published profiles
// of others: 19891-1 and 19889-5 (end-tidal CO2, as pressure and as fraction),
// 2339-0 and 15074-8 (glucose, by mass and by substance), 9187-6 (urine),
// 97816-3 (ASA class). From memory: 718-7 (haemoglobin). LOINC is copyright Regenstrief Institute, Inc.
var measureCodes = map[string][]string{
	"pulse":          {"8867-4"},
	"spo2":           {"59408-5", "2708-6"}, // the profile asks for the second beside the first
	"breaths":        {"9279-1"},
	"etco2 mm[Hg]":   {"19891-1"},
	"etco2 %":        {"19889-5"},
	"temperature":    {"8310-5"},
	"glucose mmol/L": {"15074-8"},
	"glucose mg/dL":  {"2339-0"},
	"weight":         {"29463-7"},
	"length":         {"8302-2"},
	"haemoglobin":    {"718-7"},
	"asa":            {"97816-3"},
	"systolic":       {"8480-6"},
	"diastolic":      {"8462-4"},
	"urine":          {"9187-6"},
	"pressure":       {"85354-9"},
}

// vital names the members that FHIR calls vital signs.
var vital = []string{"pulse", "spo2", "breaths", "temperature", "weight", "length", "pressure"}

// member is one member of a payload's data, flat: "suggested.low".
type member struct {
	name string
	v    reflect.Value // of the member's type; one element where it is a list
}

// members lists what a payload holds, in the order of its type.
func members(p timeline.Payload) (all []member) {
	walkMembers(reflect.ValueOf(p).Elem(), "", func(name string, v reflect.Value) {
		if v.IsZero() {
			return // left out, as in the lines
		}
		if v.Kind() == reflect.Slice {
			for i := range v.Len() {
				all = append(all, member{name, v.Index(i)})
			}
			return
		}
		all = append(all, member{name, v})
	})
	return all
}

// walkMembers walks the fields of a payload's type by their JSON names.
func walkMembers(v reflect.Value, prefix string, f func(name string, v reflect.Value)) {
	for i := range v.NumField() {
		field, to := v.Type().Field(i), v.Field(i)
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		switch {
		case field.Anonymous:
			walkMembers(to, prefix, f)
		case to.Kind() == reflect.Pointer && to.Type().Elem().Kind() == reflect.Struct:
			if !to.IsNil() {
				walkMembers(to.Elem(), prefix+name+".", f)
			}
		default:
			f(prefix+name, to)
		}
	}
}

// fhirMaker makes the bundle of one case.
type fhirMaker struct {
	cs      *core.Case
	drugs   core.DrugCodes
	private bool
	snomed  *Snomed
	stands  func(*timeline.Entry, *timeline.Version) (core.Stand, error)
	bundle  fhirBundle
	people  map[string]bool
}

// writeFHIR writes one case as a Bundle of FHIR R4.
func writeFHIR(ctx context.Context, w io.Writer, src Source, o Options) error {
	story, persons, err := src.Story(ctx, o.Case)
	if err != nil {
		return err
	}
	cs := core.CaseOf(o.Case, story, persons)
	drugs, err := src.DrugCodes(ctx)
	if err != nil {
		return err
	}
	checks, err := src.Checks(ctx, cs)
	if err != nil {
		return err
	}
	m := &fhirMaker{cs: cs, drugs: drugs, private: o.Private, snomed: o.Snomed, stands: src.Stands(ctx, cs), people: map[string]bool{}}
	if err := m.make(checks); err != nil {
		return err
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(m.bundle)
}

func (m *fhirMaker) make(checks []core.Check) error {
	m.bundle = fhirBundle{ResourceType: "Bundle", Identifier: &fhirIdentifier{uriSystem, urn(m.cs.ID)}, Type: "collection"}
	m.patient()
	m.procedures()
	for _, e := range m.cs.Entries {
		if err := m.entry(e); err != nil {
			return err
		}
	}
	for _, c := range checks {
		m.check(c)
	}
	return nil
}

func urn(id string) string {
	if uuid.Validate(id) == nil {
		return "urn:uuid:" + id
	}
	return "urn:uuid:" + derived(id, "id")
}

// derived gives a further id that is the same at every export: a UUID of
// version 5 (RFC 9562) over the id and what it is for.
func derived(id, what string) string {
	return uuid.NewSHA1(uuid.NameSpaceURL, []byte("urn:x-chinlift:"+id+":"+what)).String()
}

func (m *fhirMaker) add(id string, r fhirResource) {
	if uuid.Validate(id) != nil {
		id = derived(id, "id")
	}
	r.ID = id
	m.bundle.Entry = append(m.bundle.Entry, fhirEntryOfSet{"urn:uuid:" + id, &r})
}

func ref(id string) *fhirReference { return &fhirReference{urn(id)} }

// subject is the patient; where nobody was named, the case stands in.
func (m *fhirMaker) subject() *fhirReference {
	return ref(cmp.Or(m.cs.Patient, derived(m.cs.ID, "patient")))
}

var genders = map[term.Sex]string{term.SexFemale: "female", term.SexMale: "male", term.SexUnknown: "unknown"}

func (m *fhirMaker) patient() {
	p := fhirResource{ResourceType: "Patient", Gender: genders[m.cs.Facts.Sex]}
	if e := m.cs.Persons[m.cs.Patient]; e != nil && m.private {
		p.Name, p.Identifier = named(e.Now().Private())
	}
	m.add(cmp.Or(m.cs.Patient, derived(m.cs.ID, "patient")), p)
}

func named(p timeline.Private) (names []fhirName, ids []fhirIdentifier) {
	if n := p[timeline.PrivateName]; n != "" {
		names = []fhirName{{Text: n}}
	}
	if n := p[timeline.PrivateNumber]; n != "" {
		ids = []fhirIdentifier{{ownNumber, n}}
	}
	return names, ids
}

// by refers to who made an entry, and tells of that person once.
func (m *fhirMaker) by(id string) *fhirReference {
	if id == core.Nobody {
		id = derived(m.cs.ID, "device")
		if !m.people[id] {
			m.people[id] = true
			m.add(id, fhirResource{ResourceType: "Device"})
		}
		return ref(id)
	}
	if !m.people[id] {
		m.people[id] = true
		p := fhirResource{ResourceType: "Practitioner"}
		e := m.cs.Persons[id]
		if e != nil && m.private {
			p.Name, _ = named(e.Now().Private())
		}
		if len(p.Name) == 0 {
			p.Name = []fhirName{nameless(e)}
		}
		m.add(id, p)
	}
	return ref(id)
}

// nameless says why a name is not here: nobody ever gave one, or there is one
// that does not go out, or was destroyed.
func nameless(e *timeline.Entry) fhirName {
	why := "unknown"
	if e != nil && e.Now().Content.Event.Private != "" {
		why = "masked"
	}
	return fhirName{Extension: []fhirExtension{{absentExtension, why}}}
}

// procedures tells of the anaesthetic, and of the operation that it is part
// of.
func (m *fhirMaker) procedures() {
	cs := m.cs
	anaesthetic := fhirResource{ResourceType: "Procedure", Status: "preparation", Subject: m.subject(),
		Code: m.concept(fhirCoding{ownAct, "anaesthetic"})}
	for _, t := range cs.Plan.Techniques {
		anaesthetic.Code.Coding = append(anaesthetic.Code.Coding, m.concept(fhirCoding{ownCode + "plan.techniques", string(t)}).Coding...)
	}
	end := cs.Phases[term.PhaseAnaesthesiaEnd]
	switch {
	case cs.Outcome == term.OutcomeAbandoned && cs.Began.IsZero():
		anaesthetic.Status = "not-done"
	case cs.Outcome == term.OutcomeAbandoned:
		anaesthetic.Status = "stopped"
	case cs.Closed || !end.IsZero():
		anaesthetic.Status = "completed"
	case !cs.Began.IsZero():
		anaesthetic.Status = "in-progress"
	}
	anaesthetic.PerformedPeriod = period(cmp.Or(cs.Phases[term.PhaseAnaesthesiaStart], cs.Began), end)
	if cs.Outcome != "" {
		anaesthetic.Outcome = m.concept(fhirCoding{ownCode + "outcome.outcome", string(cs.Outcome)})
	}
	var seen []term.Trouble
	for _, p := range timeline.Each[*timeline.Trouble](cs.Entries, cs.ID) {
		if !slices.Contains(seen, p.Trouble) {
			seen = append(seen, p.Trouble)
			anaesthetic.Complication = append(anaesthetic.Complication, *m.concept(fhirCoding{ownCode + "trouble.trouble", string(p.Trouble)}))
		}
	}
	knife := cs.Phases[term.PhaseKnifeToSkin]
	if cs.Plan.Operation == "" && knife.IsZero() {
		m.add(cs.ID, anaesthetic)
		return
	}
	id := derived(cs.ID, "operation")
	anaesthetic.PartOf = []fhirReference{*ref(id)}
	m.add(cs.ID, anaesthetic)
	done := cs.Phases[term.PhaseSurgeryEnd]
	operation := fhirResource{ResourceType: "Procedure", Status: "preparation", Subject: m.subject(),
		Code: m.concept(fhirCoding{ownAct, "operation"}), PerformedPeriod: period(knife, done)}
	if cs.Plan.Operation != "" {
		operation.Code.Coding = append(operation.Code.Coding, m.concept(fhirCoding{ownCode + "plan.operation", string(cs.Plan.Operation)}).Coding...)
	}
	switch {
	case !done.IsZero():
		operation.Status = "completed"
	case !knife.IsZero() && cs.Closed:
		operation.Status = "unknown" // begun, and its end was not recorded
	case !knife.IsZero():
		operation.Status = "in-progress"
	case cs.Closed:
		operation.Status = "not-done"
	}
	if m.private && cs.PlanText != "" {
		operation.Note = []fhirNote{{cs.PlanText}}
	}
	m.add(id, operation)
}

func period(start, end timeline.Moment) *fhirPeriod {
	if start.IsZero() && end.IsZero() {
		return nil
	}
	return &fhirPeriod{stamp(start), stamp(end)}
}

// concept makes a concept of a code, with the SNOMED CT code that the mapping
// gives for it.
func (m *fhirMaker) concept(c fhirCoding) *fhirConcept {
	k := &fhirConcept{Coding: []fhirCoding{c}}
	if id := m.snomed.find(c.System, c.Code); id != "" {
		k.Coding = append(k.Coding, fhirCoding{snomed, id})
	}
	return k
}

// versionStatus says how a version of an entry stands, as a status of a
// resource.
func (m *fhirMaker) versionStatus(e *timeline.Entry, i int) string {
	switch state, _ := standing(e, i, m.cs.ID); state {
	case standingCurrent:
		if len(e.Versions) > 1 {
			return "amended"
		}
		return "final"
	case standingDisputed:
		return "unknown" // two corrections stand against each other
	}
	return "entered-in-error"
}

// entry tells of every version of an entry that carries content: the one that
// stands as final or amended, the others as entered in error, and who changed
// what as Provenance.
func (m *fhirMaker) entry(e *timeline.Entry) error {
	var before []string // the resources of the version before, in their order
	for i := range e.Versions {
		v := &e.Versions[i]
		if _, unknown := v.Payload.(*timeline.Unknown); unknown {
			continue
		}
		// A strike or a move changes the standing of what is there and brings
		// no content: the last version that brings some tells it.
		now := before
		if v.Content == v.Line {
			status := m.versionStatus(e, i)
			if last := m.sameContent(e, i); last > i {
				status = m.versionStatus(e, last)
			}
			var err error
			if now, err = m.version(e, v, status); err != nil {
				return err
			}
		}
		if i > 0 {
			m.provenance(e, i, now, before)
		}
		before = now
	}
	return nil
}

// The codes of how a dose stood to the dose rules when it was given.
const (
	standConfirmed    = "confirmed"     // a rule judged it, and somebody of the clinic stood for that rule
	standNotConfirmed = "not-confirmed" // a rule judged it, and nobody did
	standNotJudged    = "not-judged"    // no rule judged it
	standLateWithin   = "late-within"   // a rule does by what became known later: it is within
	standLateOver     = "late-over"     // or over it
	standWeightFar    = "weight-far"    // it went by a weight far from the age, at which nobody looked again
)

// stand gives the tags that every resource of a dose bears. R4 has no status
// for it: a verificationStatus is there of conditions and allergies alone, and
// whether a dose was given is not in question.
func (m *fhirMaker) stand(e *timeline.Entry, v *timeline.Version) (*fhirMeta, error) {
	st, err := m.stands(e, v)
	if err != nil || !st.Dose {
		return nil, err
	}
	var tags []fhirCoding
	switch {
	case st.Why != "":
		tags = []fhirCoding{{ownStand, standNotJudged}, {ownWhy, string(st.Why)}}
	case st.Sure:
		tags = []fhirCoding{{ownStand, standConfirmed}}
	default:
		tags = []fhirCoding{{ownStand, standNotConfirmed}}
	}
	switch {
	case st.Late == nil:
	case st.Late.Over:
		tags = append(tags, fhirCoding{ownStand, standLateOver})
	default:
		tags = append(tags, fhirCoding{ownStand, standLateWithin})
	}
	if st.Far {
		tags = append(tags, fhirCoding{ownStand, standWeightFar})
	}
	return &fhirMeta{tags}, nil
}

// sameContent gives the last version that has the content of version i: a
// strike, a restoring or a move after it.
func (m *fhirMaker) sameContent(e *timeline.Entry, i int) int {
	last := i
	for j := i + 1; j < len(e.Versions); j++ {
		if e.Versions[j].Content == e.Versions[i].Line {
			last = j
		}
	}
	return last
}

func (m *fhirMaker) provenance(e *timeline.Entry, i int, now, before []string) {
	v := &e.Versions[i]
	if len(now) == 0 {
		return
	}
	p := fhirResource{ResourceType: "Provenance", Recorded: instant(v.Line.Event.Entered.Wall),
		Agent: []fhirActor{{Who: m.by(v.Line.Event.Author)}}, Activity: &fhirConcept{[]fhirCoding{{operations, "UPDATE"}}}}
	if v.Struck {
		p.Activity.Coding[0].Code = "NULLIFY"
	}
	if r := v.Line.Event.Reason; r != "" {
		p.Reason = []fhirConcept{*m.concept(fhirCoding{ownReason, string(r)})}
	}
	for _, id := range now {
		p.Target = append(p.Target, *ref(id))
	}
	if !slices.Equal(now, before) {
		for _, id := range before {
			p.Entity = append(p.Entity, fhirRevision{"revision", *ref(id)})
		}
	}
	m.add(derived(v.Line.Event.ID, "provenance"), p)
}

// instant is a time as FHIR wants one that is exact.
func instant(t timeline.Moment) string { return stamp(t) }

// version adds the resources of one version and gives their ids.
func (m *fhirMaker) version(e *timeline.Entry, v *timeline.Version, status string) (ids []string, err error) {
	kind := v.Payload.Kind().Name()
	meta, err := m.stand(e, v)
	if err != nil {
		return nil, err
	}
	rest := members(v.Payload)
	base := fhirResource{ResourceType: "Observation", Meta: meta, Status: status, Subject: m.subject(), PartOf: []fhirReference{*ref(m.cs.ID)},
		EffectiveDateTime: stamp(v.At), Issued: instant(v.Line.Event.Entered.Wall), Identifier: []fhirIdentifier{{ownEntry, e.ID}, {ownVersion, v.Line.Event.ID}}}
	add := func(what string, r fhirResource) {
		id := derived(v.Line.Event.ID, what)
		if len(ids) == 0 {
			id = v.Line.Event.ID
		}
		if r.ResourceType == "Observation" {
			r.Performer = []fhirReference{*m.by(v.Line.Event.Author)}
		} else {
			r.Performer = []fhirActor{{Actor: m.by(v.Line.Event.Author)}}
		}
		ids = append(ids, id)
		m.add(id, r)
	}
	take := func(name string) (taken *member) {
		for i := range rest {
			if rest[i].name == name {
				taken = &rest[i]
				rest = slices.Delete(slices.Clone(rest), i, i+1)
				return &member{taken.name, taken.v}
			}
		}
		return nil
	}
	if text := v.Private()[timeline.PrivateText]; m.private && text != "" {
		base.Note = []fhirNote{{text}}
	}

	for _, r := range m.administrations(kind, base, take) {
		add(r.what, r.fhirResource)
	}
	if kind == "vitals" || kind == "baseline" {
		if r := m.pressure(kind, base, take("systolic"), take("diastolic")); r != nil {
			add("pressure", *r)
		}
	}
	measured := timeline.MeasureNames
	if kind == "facts" {
		measured = []string{"weight", "length", "haemoglobin", "asa"}
	}
	if kind == "vitals" || kind == "baseline" || kind == "facts" {
		for _, name := range measured {
			if got := take(name); got != nil {
				r := base
				r.Code, r.fhirValue = m.fieldCode(kind, *got), m.value(kind, *got)
				r.Category = category(name)
				add(name, r)
			}
		}
	}
	if out, ok := v.Payload.(*timeline.Out); ok && out.What == term.FluidOutUrine {
		if got := take("volume"); got != nil {
			r := base
			r.Code, r.fhirValue = m.fieldCode("out-urine", *got), m.value(kind, *got)
			add("urine", r)
		}
	}
	// What is left, as components of one observation of our own code.
	if len(rest) > 0 || len(ids) == 0 {
		r := base
		r.Code = m.concept(fhirCoding{ownKind + kind, kind})
		for _, left := range rest {
			r.Component = append(r.Component, fhirComponent{Code: m.fieldCode(kind, left), fhirValue: m.value(kind, left)})
		}
		// A reader may pass over tags: beside what a rule suggested it stands
		// among the values, too.
		if f := frozen(v.Payload); f != nil && meta != nil {
			sure := meta.Tag[0].Code == standConfirmed
			r.Component = append(r.Component, fhirComponent{Code: &fhirConcept{[]fhirCoding{{ownStand, standConfirmed}}}, fhirValue: fhirValue{Boolean: &sure}})
		}
		add("rest", r)
	}
	return ids, nil
}

// frozen gives what a rule suggested for a dose; nil: none did.
func frozen(p timeline.Payload) *timeline.Suggested {
	switch p := p.(type) {
	case *timeline.Drug:
		return p.Frozen
	case *timeline.Infusion:
		return p.Frozen
	}
	return nil
}

func category(name string) any {
	if !slices.Contains(vital, name) {
		return nil
	}
	return []fhirConcept{{Coding: []fhirCoding{{categories, "vital-signs"}}}}
}

// fieldCode gives the code of a member: LOINC where there is one, and ours,
// by which it can be read back.
func (m *fhirMaker) fieldCode(kind string, f member) *fhirConcept {
	k := &fhirConcept{}
	codes := measureCodes[f.name]
	if a, ok := f.v.Interface().(quantity.Amount); ok && codes == nil {
		codes = measureCodes[f.name+" "+a.Unit.String()]
	}
	switch kind {
	case "vitals", "baseline", "facts":
	case "out-urine":
		kind, codes = "out", measureCodes["urine"]
	default:
		codes = nil
	}
	for _, c := range codes {
		k.Coding = append(k.Coding, fhirCoding{loinc, c})
	}
	k.Coding = append(k.Coding, m.concept(fhirCoding{ownKind + kind, f.name}).Coding...)
	return k
}

// value gives what a member holds.
func (m *fhirMaker) value(kind string, f member) (v fhirValue) {
	switch x := f.v.Interface().(type) {
	case quantity.Amount:
		v.Quantity = amountOf(x)
		return v
	case quantity.Decimal:
		v.Quantity = &fhirQuantity{Value: json.Number(x.String()), System: ucum, Code: "1"}
		return v
	case timeline.Moment:
		v.DateTime = stamp(x)
		return v
	case timeline.Hash:
		v.String = string(x)
		return v
	}
	to := f.v
	if to.Kind() == reflect.Pointer {
		to = to.Elem()
	}
	switch to.Kind() {
	case reflect.Bool:
		b := to.Bool()
		v.Boolean = &b
	case reflect.Int:
		n := int(to.Int())
		v.Integer = &n
	case reflect.String:
		if to.Type() == reflect.TypeFor[string]() {
			v.String = to.String()
		} else {
			v.Concept = m.concept(fhirCoding{ownCode + kind + "." + f.name, to.String()})
		}
	}
	return v
}

func amountOf(a quantity.Amount) *fhirQuantity {
	value, unit, _ := strings.Cut(a.String(), " ")
	return &fhirQuantity{Value: json.Number(value), Unit: unit, System: ucum, Code: unit}
}

// pressure makes the one observation that blood pressure is; of a half that
// was not measured it says so, as the profile asks.
func (m *fhirMaker) pressure(kind string, base fhirResource, systolic, diastolic *member) *fhirResource {
	if systolic == nil && diastolic == nil {
		return nil
	}
	r := base
	r.Category = category("pressure")
	r.Code = &fhirConcept{[]fhirCoding{{loinc, measureCodes["pressure"][0]}, {ownKind + kind, "pressure"}}}
	for i, half := range []*member{systolic, diastolic} {
		name := []string{"systolic", "diastolic"}[i]
		c := fhirComponent{Code: &fhirConcept{[]fhirCoding{{loinc, measureCodes[name][0]}, {ownKind + kind, name}}}}
		if half == nil {
			c.DataAbsentReason = &fhirConcept{[]fhirCoding{{absentReason, "not-performed"}}}
		} else {
			c.fhirValue = m.value(kind, *half)
		}
		r.Component = append(r.Component, c)
	}
	return &r
}

// administration is a MedicationAdministration and what it is of.
type administration struct {
	what string
	fhirResource
}

// oxygenATC is oxygen in the ATC index (from memory).
const oxygenATC = "V03AN01"

// administrations makes what was given of a drug, an infusion, an agent or a
// fluid, and takes the members that it holds.
func (m *fhirMaker) administrations(kind string, base fhirResource, take func(string) *member) (all []administration) {
	given := func(what, member, code, atc string, route, dose, rate *member) {
		r := base
		r.ResourceType, r.PartOf, r.Issued = "MedicationAdministration", base.PartOf, ""
		r.Status = map[string]string{"final": "completed", "amended": "completed"}[base.Status]
		if r.Status == "" {
			r.Status = base.Status
		}
		r.Medication = &fhirConcept{}
		if atc != "" {
			r.Medication.Coding = append(r.Medication.Coding, fhirCoding{atcIndex, atc})
		}
		r.Medication.Coding = append(r.Medication.Coding, m.concept(fhirCoding{ownKind + kind + ":" + member, code}).Coding...)
		if dose != nil || rate != nil {
			r.Dosage = &fhirDosage{}
			if dose != nil {
				r.Dosage.Dose = m.value(kind, *dose).Quantity
			}
			if rate != nil {
				r.Dosage.Rate = m.value(kind, *rate).Quantity
			}
			if route != nil {
				r.Dosage.Route = m.value(kind, *route).Concept
			}
		}
		all = append(all, administration{what, r})
	}
	code := func(name string) string {
		if f := take(name); f != nil {
			return f.v.String()
		}
		return ""
	}
	atc := func(drug string) string {
		a, _ := m.drugs(drug)
		return a
	}
	switch kind {
	case "drug":
		drug := code("drug")
		given("drug", "drug", drug, atc(drug), take("route"), take("dose"), nil)
	case "infusion":
		drug, rate := code("drug"), take("rate")
		var route *member
		if rate != nil {
			route = take("route")
		}
		given("infusion", "drug", drug, atc(drug), route, nil, rate)
	case "agent":
		if agent := code("agent"); agent != "" {
			rate := take("drops")
			if rate == nil {
				rate = take("percent")
			}
			given("agent", "agent", agent, atc(agent), nil, nil, rate)
		}
		if oxygen := take("oxygen"); oxygen != nil {
			given("oxygen", "oxygen", "oxygen", oxygenATC, nil, nil, oxygen)
		}
	case "in":
		given("in", "what", code("what"), "", nil, take("volume"), nil)
	}
	return all
}

// check tells of the equipment of the day: what was found before the
// anaesthetic began, one answer for each item, the last that was given.
func (m *fhirMaker) check(c core.Check) {
	r := fhirResource{ResourceType: "QuestionnaireResponse", Status: "completed", Questionnaire: ownList + c.List, Subject: m.subject()}
	place := map[string]int{}
	for e, p := range timeline.Each[*timeline.KitItem](c.Story.Entries, c.About) {
		if v := e.Now(); m.cs.Began.IsZero() || !v.At.After(m.cs.Began.Time) {
			item := fhirItem{LinkID: p.Item, Answer: []fhirAnswer{{&fhirCoding{ownKit, string(p.State)}}}}
			if p.Answer != "" {
				item.Answer = append(item.Answer, fhirAnswer{&fhirCoding{ownAnswer, string(p.Answer)}})
			}
			if i, ok := place[p.Item]; ok {
				r.Item[i] = item
			} else {
				place[p.Item] = len(r.Item)
				r.Item = append(r.Item, item)
			}
			if len(e.Versions) > 1 {
				r.Status = "amended"
			}
			r.Authored, r.Author = stamp(v.At), m.by(v.Line.Event.Author)
		}
	}
	if len(r.Item) > 0 {
		m.add(derived(m.cs.ID, "check:"+c.List), r)
	}
}
