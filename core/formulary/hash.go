package formulary

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
)

// hash makes the hash of a use: over the JSON of the drug with this use alone,
// the reductions and alerts that touch it, and the sources that all of these
// name. Another use of the drug, or a comment in the file, does not change it.
func (d *Drug) hash(u *Use) string {
	cut := Drug{
		Code: d.Code, Class: d.Class, ATC: d.ATC, Sources: make(map[string]Source),
		Presentations: d.Presentations, Dilutions: d.Dilutions, Equivalent: d.Equivalent, Uses: []Use{*u},
	}
	for _, r := range d.Reduces {
		if r.touches(u) {
			cut.Reduces = append(cut.Reduces, r)
		}
	}
	for _, a := range d.Alerts {
		if len(a.Uses) == 0 || slices.Contains(a.Uses, u.Code) {
			cut.Alerts = append(cut.Alerts, a)
		}
	}
	for _, c := range cut.cites() {
		cut.Sources[c.Source] = d.Sources[c.Source]
		for _, s := range c.SourceOf {
			cut.Sources[s] = d.Sources[s]
		}
	}
	// encoding/json writes the fields in their order and sorts the keys of maps.
	text, err := json.Marshal(cut)
	if err != nil {
		panic("formulary: " + err.Error()) // the parts are texts, numbers and amounts in wire form
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// cites gives every naming of sources in the drug.
func (d *Drug) cites() []Cited {
	var cs []Cited
	for _, p := range d.Presentations {
		cs = append(cs, p.Cited)
	}
	for _, r := range d.Dilutions {
		cs = append(cs, r.Cited)
	}
	if d.Equivalent != nil && d.Equivalent.Source != "" {
		cs = append(cs, d.Equivalent.Cited)
	}
	for _, u := range d.Uses {
		cs = append(cs, u.Cited)
		for _, o := range u.Doses {
			cs = append(cs, o.Cited)
		}
		for _, t := range u.Totals {
			cs = append(cs, t.Cited)
		}
	}
	for _, r := range d.Reduces {
		cs = append(cs, r.Cited)
	}
	for _, a := range d.Alerts {
		cs = append(cs, a.Cited)
	}
	return cs
}

// touches reports whether a reduction applies to a use at all.
func (r *Reduce) touches(u *Use) bool {
	return !u.Rescue && (len(r.Uses) == 0 || slices.Contains(r.Uses, u.Code))
}
