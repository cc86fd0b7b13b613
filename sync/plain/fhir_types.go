package plain

import "encoding/json"

// The parts of FHIR R4 (HL7, Fast Healthcare Interoperability Resources,
// Release 4, 4.0.1) that are written here, with their members in the order of
// the specification. A number is a json.Number, so that "7.0" stays "7.0".

type fhirBundle struct {
	ResourceType string           `json:"resourceType"`
	Identifier   *fhirIdentifier  `json:"identifier,omitempty"`
	Type         string           `json:"type"`
	Entry        []fhirEntryOfSet `json:"entry,omitempty"`
}

type fhirEntryOfSet struct {
	FullURL  string        `json:"fullUrl"`
	Resource *fhirResource `json:"resource"`
}

type fhirIdentifier struct {
	System string `json:"system,omitempty"`
	Value  string `json:"value"`
}

type fhirCoding struct {
	System string `json:"system,omitempty"`
	Code   string `json:"code"`
}

type fhirConcept struct {
	Coding []fhirCoding `json:"coding,omitempty"`
}

type fhirReference struct {
	Reference string `json:"reference"`
}

type fhirQuantity struct {
	Value  json.Number `json:"value"`
	Unit   string      `json:"unit,omitempty"`
	System string      `json:"system,omitempty"`
	Code   string      `json:"code,omitempty"`
}

type fhirPeriod struct {
	Start string `json:"start,omitempty"`
	End   string `json:"end,omitempty"`
}

type fhirNote struct {
	Text string `json:"text"`
}

type fhirExtension struct {
	URL   string `json:"url"`
	Value string `json:"valueCode"`
}

type fhirName struct {
	Extension []fhirExtension `json:"extension,omitempty"`
	Text      string          `json:"text,omitempty"`
}

type fhirMeta struct {
	Tag []fhirCoding `json:"tag"`
}

type fhirValue struct {
	Quantity *fhirQuantity `json:"valueQuantity,omitempty"`
	Concept  *fhirConcept  `json:"valueCodeableConcept,omitempty"`
	String   string        `json:"valueString,omitempty"`
	Boolean  *bool         `json:"valueBoolean,omitempty"`
	Integer  *int          `json:"valueInteger,omitempty"`
	DateTime string        `json:"valueDateTime,omitempty"`
}

type fhirComponent struct {
	Code *fhirConcept `json:"code"`
	fhirValue
	DataAbsentReason *fhirConcept `json:"dataAbsentReason,omitempty"`
}

type fhirDosage struct {
	Route *fhirConcept  `json:"route,omitempty"`
	Dose  *fhirQuantity `json:"dose,omitempty"`
	Rate  *fhirQuantity `json:"rateQuantity,omitempty"`
}

type fhirActor struct {
	Actor *fhirReference `json:"actor,omitempty"` // Procedure, MedicationAdministration
	Who   *fhirReference `json:"who,omitempty"`   // Provenance
}

type fhirRevision struct {
	Role string        `json:"role"`
	What fhirReference `json:"what"`
}

type fhirAnswer struct {
	Coding *fhirCoding `json:"valueCoding,omitempty"`
}

type fhirItem struct {
	LinkID string       `json:"linkId"`
	Answer []fhirAnswer `json:"answer,omitempty"`
}

// fhirResource is any of the resources that are written; a member that a
// resource does not have is left empty.
type fhirResource struct {
	ResourceType string `json:"resourceType"`
	ID           string `json:"id,omitempty"`

	Meta *fhirMeta `json:"meta,omitempty"`

	// Of most, a list; of QuestionnaireResponse one, which is left out.
	Identifier []fhirIdentifier `json:"identifier,omitempty"`

	// Patient, Practitioner
	Name   []fhirName `json:"name,omitempty"`
	Gender string     `json:"gender,omitempty"`

	PartOf   []fhirReference `json:"partOf,omitempty"`
	Status   string          `json:"status,omitempty"`
	Category any             `json:"category,omitempty"` // Observation: a list
	Code     *fhirConcept    `json:"code,omitempty"`

	Medication *fhirConcept   `json:"medicationCodeableConcept,omitempty"`
	Subject    *fhirReference `json:"subject,omitempty"`

	Questionnaire string `json:"questionnaire,omitempty"`
	Authored      string `json:"authored,omitempty"`

	EffectiveDateTime string      `json:"effectiveDateTime,omitempty"`
	PerformedPeriod   *fhirPeriod `json:"performedPeriod,omitempty"`
	Issued            string      `json:"issued,omitempty"`

	Performer any            `json:"performer,omitempty"` // Observation: references; else actors
	Author    *fhirReference `json:"author,omitempty"`

	fhirValue
	DataAbsentReason *fhirConcept  `json:"dataAbsentReason,omitempty"`
	Complication     []fhirConcept `json:"complication,omitempty"`
	Outcome          *fhirConcept  `json:"outcome,omitempty"`
	Note             []fhirNote    `json:"note,omitempty"`
	Dosage           *fhirDosage   `json:"dosage,omitempty"`

	Component []fhirComponent `json:"component,omitempty"`
	Item      []fhirItem      `json:"item,omitempty"`

	// Provenance
	Target   []fhirReference `json:"target,omitempty"`
	Recorded string          `json:"recorded,omitempty"`
	Reason   []fhirConcept   `json:"reason,omitempty"`
	Activity *fhirConcept    `json:"activity,omitempty"`
	Agent    []fhirActor     `json:"agent,omitempty"`
	Entity   []fhirRevision  `json:"entity,omitempty"`
}
