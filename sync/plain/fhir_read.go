package plain

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"chinlift/core/quantity"
	"chinlift/core/timeline"
)

// FHIREntry is one version of one entry, read back from a bundle.
//
// A bundle holds what was said, when, by whom and how it stands. It does not
// hold, so that they do not come back: the log, its numbers, ticks and hashes;
// the clock since the start of the device; the names of time zones; lines that
// wait for their root or were set aside; kinds and members that the program
// that wrote it did not know; the acts of striking and moving themselves but
// as Provenance; who stood for a dose rule and since when; salts, and the
// photographs that private parts name.
type FHIREntry struct {
	Entry, Version string
	Status         string // final, amended, entered-in-error or unknown; completed of what was given
	At             timeline.Moment
	Payload        timeline.Payload
	Text           string // the private words, where they are in it

	// Of a dose, how it stood to the dose rules: confirmed, not-confirmed or
	// not-judged, and what else its tags say.
	Stand []string
}

// longestBundle bounds a bundle that is read.
const longestBundle = 64 << 20

// ReadFHIR reads the entries of a bundle that writeFHIR made, in its order.
// Resources of others are passed over.
func ReadFHIR(r io.Reader) ([]FHIREntry, error) {
	data, err := io.ReadAll(io.LimitReader(r, longestBundle+1))
	if err != nil {
		return nil, err
	}
	if len(data) > longestBundle {
		return nil, fmt.Errorf("the bundle is longer than %d bytes", longestBundle)
	}
	var b struct {
		ResourceType string
		Entry        []struct{ Resource json.RawMessage }
	}
	if err := json.Unmarshal(data, &b); err != nil {
		return nil, err
	}
	if b.ResourceType != "Bundle" {
		return nil, fmt.Errorf("this is no Bundle but %q", b.ResourceType)
	}
	var order []string
	found := map[string]*gathered{}
	for _, e := range b.Entry {
		var kind struct{ ResourceType string }
		if err := json.Unmarshal(e.Resource, &kind); err != nil {
			return nil, err
		}
		if kind.ResourceType != "Observation" && kind.ResourceType != "MedicationAdministration" {
			continue
		}
		var res fhirResource
		if err := json.Unmarshal(e.Resource, &res); err != nil {
			return nil, err
		}
		var entry, version string
		for _, id := range res.Identifier {
			switch id.System {
			case ownEntry:
				entry = id.Value
			case ownVersion:
				version = id.Value
			}
		}
		if entry == "" || version == "" {
			continue
		}
		g := found[version]
		if g == nil {
			g = &gathered{entry: entry, version: version, members: map[string][]fhirValue{}}
			found[version] = g
			order = append(order, version)
		}
		if err := g.add(&res); err != nil {
			return nil, fmt.Errorf("version %s: %w", version, err)
		}
	}
	var all []FHIREntry
	for _, version := range order {
		e, err := found[version].entryOf()
		if err != nil {
			return nil, fmt.Errorf("version %s: %w", version, err)
		}
		all = append(all, e)
	}
	return all, nil
}

// gathered is what the resources of one version hold together.
type gathered struct {
	entry, version, kind, status, text string
	at                                 string
	stand                              []string
	members                            map[string][]fhirValue
}

func (g *gathered) add(r *fhirResource) error {
	g.at, g.status = r.EffectiveDateTime, r.Status
	if r.Meta != nil {
		g.stand = nil // each resource of a version says the same
		for _, t := range r.Meta.Tag {
			if t.System == ownStand || t.System == ownWhy {
				g.stand = append(g.stand, t.Code)
			}
		}
	}
	if len(r.Note) > 0 {
		g.text = r.Note[0].Text
	}
	if r.ResourceType == "MedicationAdministration" {
		return g.given(r)
	}
	name, err := g.ours(r.Code)
	if err != nil {
		return err
	}
	switch {
	case len(r.Component) == 0 && name != g.kind:
		g.members[name] = append(g.members[name], r.fhirValue)
	default:
		for i := range r.Component {
			c := &r.Component[i]
			if c.DataAbsentReason != nil || stands(c.Code) {
				continue
			}
			name, err := g.ours(c.Code)
			if err != nil {
				return err
			}
			g.members[name] = append(g.members[name], c.fhirValue)
		}
	}
	return nil
}

// stands says whether a component tells how a dose stood to the rules, which is
// no member of its entry.
func stands(k *fhirConcept) bool {
	return k != nil && slices.ContainsFunc(k.Coding, func(c fhirCoding) bool { return c.System == ownStand })
}

// ours finds our code of a concept, and notes the kind that it is of.
func (g *gathered) ours(k *fhirConcept) (code string, err error) {
	if k == nil {
		return "", errors.New("a code is missing")
	}
	for _, c := range k.Coding {
		kind, ok := strings.CutPrefix(c.System, ownKind)
		if !ok {
			continue
		}
		kind, member, given := strings.Cut(kind, ":")
		if g.kind != "" && g.kind != kind {
			return "", fmt.Errorf("it is of the kinds %s and %s", g.kind, kind)
		}
		g.kind = kind
		if given {
			g.members[member] = append(g.members[member], fhirValue{Concept: &fhirConcept{[]fhirCoding{{ownCode + kind + "." + member, c.Code}}}})
		}
		return c.Code, nil
	}
	return "", errors.New("it has no code of ours")
}

// given takes what an administration holds.
func (g *gathered) given(r *fhirResource) error {
	oxygen := false
	if r.Medication != nil {
		for _, c := range r.Medication.Coding {
			oxygen = oxygen || c.System == ownKind+"agent:oxygen"
		}
	}
	if _, err := g.ours(r.Medication); err != nil {
		return err
	}
	put := func(name string, q *fhirQuantity) {
		if q != nil {
			g.members[name] = append(g.members[name], fhirValue{Quantity: q})
		}
	}
	if oxygen {
		delete(g.members, "oxygen") // the code stood for it
	}
	if d := r.Dosage; d != nil {
		switch {
		case g.kind == "in":
			put("volume", d.Dose)
		case oxygen:
			put("oxygen", d.Rate)
		case g.kind == "agent" && d.Rate != nil && d.Rate.Code == "%":
			put("percent", d.Rate)
		case g.kind == "agent":
			put("drops", d.Rate)
		default:
			put("dose", d.Dose)
			put("rate", d.Rate)
		}
		if d.Route != nil {
			g.members["route"] = append(g.members["route"], fhirValue{Concept: d.Route})
		}
	}
	return nil
}

func (g *gathered) entryOf() (FHIREntry, error) {
	e := FHIREntry{Entry: g.entry, Version: g.version, Status: g.status, Text: g.text, Stand: g.stand}
	at, err := timeline.ParseMoment(g.at)
	if err != nil {
		return e, err
	}
	e.At = at
	p := timeline.Blank(g.kind)
	if p == nil {
		return e, fmt.Errorf("kind %q is not known", g.kind)
	}
	// Where a part of a payload is there at all, it must be made before it
	// can be filled.
	v := reflect.ValueOf(p).Elem()
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		if f := v.Field(i); f.Kind() == reflect.Pointer && f.Type().Elem().Kind() == reflect.Struct {
			for m := range g.members {
				if strings.HasPrefix(m, name+".") && f.IsNil() {
					f.Set(reflect.New(f.Type().Elem()))
				}
			}
		}
	}
	used := 0
	walkMembers(v, "", func(name string, to reflect.Value) {
		values := g.members[name]
		if len(values) == 0 || err != nil {
			return
		}
		used++
		if to.Kind() == reflect.Slice {
			for i := range values {
				one := reflect.New(to.Type().Elem()).Elem()
				if err = setMember(one, &values[i]); err != nil {
					err = fmt.Errorf("%s: %w", name, err)
					return
				}
				to.Set(reflect.Append(to, one))
			}
			return
		}
		if len(values) > 1 {
			err = fmt.Errorf("%s stands %d times", name, len(values))
			return
		}
		if err = setMember(to, &values[0]); err != nil {
			err = fmt.Errorf("%s: %w", name, err)
		}
	})
	if err == nil && used != len(g.members) {
		err = fmt.Errorf("the kind %s does not have all of these members", g.kind)
	}
	if err == nil {
		err = p.Check()
	}
	e.Payload = p
	return e, err
}

var errValue = errors.New("the value is not of its type")

// setMember puts a value into a member of a payload.
func setMember(to reflect.Value, v *fhirValue) error {
	switch to.Interface().(type) {
	case quantity.Amount:
		if v.Quantity == nil {
			return errValue
		}
		a, err := quantity.Parse(string(v.Quantity.Value) + " " + v.Quantity.Code)
		if err == nil {
			to.Set(reflect.ValueOf(a))
		}
		return err
	case quantity.Decimal:
		if v.Quantity == nil {
			return errValue
		}
		d, err := quantity.ParseDecimal(string(v.Quantity.Value))
		if err == nil {
			to.Set(reflect.ValueOf(d))
		}
		return err
	case timeline.Moment:
		m, err := timeline.ParseMoment(v.DateTime)
		if err == nil {
			to.Set(reflect.ValueOf(m))
		}
		return err
	}
	if to.Kind() == reflect.Pointer {
		to.Set(reflect.New(to.Type().Elem()))
		to = to.Elem()
	}
	switch to.Kind() {
	case reflect.Bool:
		if v.Boolean == nil {
			return errValue
		}
		to.SetBool(*v.Boolean)
	case reflect.Int:
		if v.Integer == nil {
			return errValue
		}
		to.SetInt(int64(*v.Integer))
	case reflect.String:
		text := v.String
		if v.Concept != nil {
			for _, c := range v.Concept.Coding {
				if strings.HasPrefix(c.System, ownCode) {
					text = c.Code
				}
			}
		}
		if text == "" {
			return errValue
		}
		to.SetString(text)
	default:
		return errors.New("a member of type " + strconv.Quote(to.Type().String()) + " cannot be read")
	}
	return nil
}
