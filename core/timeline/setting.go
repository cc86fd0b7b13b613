package timeline

import (
	"chinlift/core/quantity"
	"chinlift/core/term"
)

// ClinicSetting is a setting that changes a result or a due, from the time it
// happened on (the event's at). About is the setting's name. Either Value, a
// Text code, or a File named by its blob. A clinic's name is in the private
// part.
type ClinicSetting struct {
	Setting term.Setting    `json:"setting"`
	Value   quantity.Amount `json:"value,omitzero"`
	Text    string          `json:"text,omitempty"` // a code of an open list, such as a fasting set
	File    string          `json:"file,omitempty"` // the file's name in its area, such as open-drop.toml
	Blob    Hash            `json:"blob,omitempty"` // SHA-256 of the file
}

// Kind is "setting/1".
func (*ClinicSetting) Kind() Kind { return "setting/1" }

// Check answers a *FieldError for the first field at fault.
func (s *ClinicSetting) Check() error {
	c := check(s)
	code(c, "setting", term.SettingList, s.Setting, true)
	switch s.Setting {
	case term.SettingAltitude:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "-400 m", "6000 m")
	case term.SettingBarometer:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "350 mm[Hg]", "830 mm[Hg]")
	case term.SettingDropsPerMl:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "5 1", "200 1")
	case term.SettingGivingSet:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "5 {drop}/mL", "100 {drop}/mL")
	case term.SettingVitalsEvery:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "1 min", "60 min")
	case term.SettingLateAfter:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "1 min", "240 min")
	case term.SettingOfferSpO2:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "80 %", "99 %")
	case term.SettingOfferSpO2Fall:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "1 %", "20 %")
	case term.SettingOfferFall:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "10 %", "60 %")
	case term.SettingOfferSpinal:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "50 %", "99 %")
	case term.SettingOfferSpO2Severe:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "1 %", "20 %")
	case term.SettingOfferPressureLow, term.SettingOfferPressureTop, term.SettingOfferPulseLow, term.SettingOfferPulseTop:
		// Of the limit of the age.
		need(c, "value", s.Value)
		c.amount("value", s.Value, "60 %", "150 %")
	case term.SettingOfferPulseSevere:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "40 %", "100 %")
	case term.SettingOfferPressureSevere:
		// Of the limit of the age under which a pressure is severe.
		need(c, "value", s.Value)
		c.amount("value", s.Value, "60 %", "100 %")
	case term.SettingOfferPulsePress:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "40 /min", "100 /min")
	case term.SettingOfferChild:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "1 a", "18 a")
	case term.SettingOfferFresh:
		need(c, "value", s.Value)
		c.amount("value", s.Value, "1 min", "60 min")
	case term.SettingDueSound, term.SettingDueBuzz, term.SettingOfferSound, term.SettingOfferSigns, term.SettingOfferHeight:
		if s.Text != Yes && s.Text != No {
			c.fail("text", "not-in-list")
		}
	case term.SettingStop:
		// File names what is to stop: "before-knife.sterility".
		if s.File == "" {
			c.fail("file", "missing")
		}
		if s.Text != Yes && s.Text != No {
			c.fail("text", "not-in-list")
		}
	case term.SettingFastingSet:
		c.name("text", s.Text, true)
	case term.SettingListFile, term.SettingDrugFile:
		if s.File == "" {
			c.fail("file", "missing")
		}
		if !s.Blob.Valid() {
			c.fail("blob", "missing")
		}
	}
	if len(s.File) > 100 {
		c.fail("file", "too-long")
	}
	c.plain("file", s.File, "._", "not-a-file-name")
	c.name("text", s.Text, false)
	if s.Blob != "" && !s.Blob.Valid() {
		c.fail("blob", "not-an-id")
	}
	return c.err()
}
