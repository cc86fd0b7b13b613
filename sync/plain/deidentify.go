package plain

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"chinlift/core"
	"chinlift/core/quantity"
	"chinlift/core/timeline"
)

// PseudonymKey makes the pseudonyms of cases and devices. Whoever has it can
// find out whether an id that he already knows is in a file; whoever has not
// cannot. With one key the pseudonyms of two exports agree.
type PseudonymKey []byte

const keyBytes = 32

// NewPseudonymKey makes a key from the system's randomness.
func NewPseudonymKey() (PseudonymKey, error) {
	k := make(PseudonymKey, keyBytes)
	_, err := rand.Read(k)
	return k, err
}

// ParsePseudonymKey reads what String writes.
func ParsePseudonymKey(s string) (PseudonymKey, error) {
	k, err := hex.DecodeString(strings.TrimSpace(s))
	if err != nil || len(k) != keyBytes {
		return nil, fmt.Errorf("%w: it is not %d hexadecimal digits", ErrKey, 2*keyBytes)
	}
	return k, nil
}

// String gives the key as it is kept in a file.
func (k PseudonymKey) String() string { return hex.EncodeToString(k) }

// of gives the pseudonym of an id: 16 bytes of HMAC-SHA-256 (RFC 2104).
func (k PseudonymKey) of(what, id string) string {
	mac := hmac.New(sha256.New, k)
	mac.Write([]byte(what + "\x00" + id))
	return hex.EncodeToString(mac.Sum(nil)[:16])
}

// deidentifiedName is the file of the de-identified form.
const deidentifiedName = "deidentified.jsonl"

// deidentified is one entry as it goes out: what stands, by the minute.
type deidentified struct {
	Case      string          `json:"case"`
	Device    string          `json:"device"`
	N         int             `json:"n"` // place in the case, from 1
	Minute    int64           `json:"minute"`
	Kind      timeline.Kind   `json:"kind"`
	Corrected bool            `json:"corrected,omitempty"`
	Data      json.RawMessage `json:"data"`
}

// keeps lists the members of each kind's data that go out de-identified. What
// is not in it stays behind, and so does every kind that is not in it: a new
// member must be thought about before it leaves. Ids, times, batch numbers,
// and names that a clinic may make up are not among them.
var keeps = map[string][]string{
	"agent":       {"agent", "drops", "percent", "wetness", "bottle", "off", "oxygen", "cover"},
	"airway":      {"device", "act", "size", "route", "needed", "attempts", "view", "cuff", "confirmed_by"},
	"baseline":    {"systolic", "diastolic", "pulse", "rhythm", "spo2", "breaths", "etco2", "temperature", "glucose"},
	"birth":       {"sex", "weight", "apgar_1", "apgar_5", "cried"},
	"block":       {"block", "site", "attempts", "height", "motor", "needle", "catheter", "found_by"},
	"case-closed": {},
	"case-opened": {"urgency"},
	"depth":       {"model", "agent", "asked", "course", "drift", "leads", "drops", "percent", "wetness"},
	"drug":        {"drug", "dose", "route", "strength", "volume"},
	"facts": {"age", "sex", "weight", "weight_how", "weight_by", "length", "asa", "emergency", "mallampati", "mouth", "neck", "teeth",
		"allergies", "side", "side_marked", "consent", "haemoglobin", "pregnant", "with", "without",
		"admission", "place", "anaesthetics_before", "family", "takes", "habits", "smoker", "sick_before", "reflux", "fitness", "heart", "lungs", "urine", "thyromental",
		"nostril_left", "nostril_right", "tests_seen", "marked_by", "risks_told", "assistant", "warnings", "premed_effect", "premature", "supervision", "weight_checked"},
	"in":        {"what", "volume"},
	"infusion":  {"act", "drug", "rate", "strength", "route"},
	"intake":    {"what", "unknown_time"},
	"mark":      {"label"},
	"out":       {"what", "volume", "how"},
	"outcome":   {"outcome"},
	"owed":      {"act", "for"},
	"phase":     {"phase", "home"},
	"plan":      {"techniques", "agent", "airway", "position", "operation", "drugs", "steps", "loss_allowed", "hazards", "step_times", "fluids", "recovery", "opioids_after", "place"},
	"position":  {"position", "eyes_covered", "eyes_treated", "padded", "limbs"},
	"signs":     {"breathing", "eyes", "pupils", "lid", "cornea", "jaw", "chest", "secretion", "movement", "sweat", "tears", "colour"},
	"step":      {"step"},
	"support":   {"support", "system", "tidal", "rate"},
	"trouble":   {"trouble", "act", "card"},
	"unwatched": {"monitor", "because"},
	"vitals":    {"systolic", "diastolic", "pulse", "rhythm", "spo2", "breaths", "etco2", "temperature", "glucose", "looked_same", "same", "pressure_by", "ecg", "fio2", "agent_out", "train_of_four"},
	"follow-up": {"question", "answer", "score", "grade"},
	"handover":  {"to"},
	"waking":    {"activity", "respiration", "circulation", "consciousness", "oxygen", "pain", "nausea", "steady", "confused", "met", "not_met"},
	"watch":     {"watcher"},
}

// drops lists what stays behind of the kinds in keeps; a test sees to it that
// the two together name every member.
var drops = map[string][]string{
	"birth":       {"newborn"},
	"case-opened": {"patient"},
	"drug":        {"batch", "suggested"},
	"facts":       {"same_as"},
	"follow-up":   {"version"},
	"infusion":    {"run", "suggested"},
	"owed":        {"over", "debt"},
	"plan":        {"start"},
	"trouble":     {"step", "given"},
}

// wantContent lists the kinds that say nothing by being there: one of which all
// members stay behind does so too. That a case was opened, or a child was born,
// is told by the entry alone.
var wantContent = []string{"facts", "plan"}

// otherDrug stands for a drug whose code was made up at a clinic.
const otherDrug = "other"

// writeDeidentified writes the projection: case by case in the order of the
// pseudonyms, so that not even the order of the file tells when a case was.
// Nothing can be taken in from it again.
//
// It takes away what the Safe Harbor method of the United States names (45 CFR
// 164.514(b)(2)) as far as the record holds it: names, numbers, dates, ages of
// 90 and above, device identifiers, free text. It cannot take away what is
// rare: a reader who knows of one unusual case may find it. In the terms of
// the GDPR (Article 4(5)) it is pseudonymised, and still personal data.
func writeDeidentified(ctx context.Context, w io.Writer, src Source, o Options) error {
	known, err := core.BuiltinDrugCodes()
	if err != nil {
		return err
	}
	type named struct{ pseudonym, id string }
	var cases []named
	for id, err := range caseIDs(ctx, src, o) {
		if err != nil {
			return err
		}
		cases = append(cases, named{o.Pseudonyms.of("case", id), id})
	}
	slices.SortFunc(cases, func(a, b named) int { return cmp.Compare(a.pseudonym, b.pseudonym) })
	out := bufio.NewWriter(w)
	for _, c := range cases {
		story, persons, err := src.Story(ctx, c.id)
		if err != nil {
			return err
		}
		cs := core.CaseOf(c.id, story, persons)
		lines, err := deidentify(cs, c.pseudonym, o.Pseudonyms, known)
		if err != nil {
			return err
		}
		for _, l := range lines {
			text, err := json.Marshal(l)
			if err != nil {
				return err
			}
			if _, err := out.Write(append(text, '\n')); err != nil {
				return err
			}
		}
	}
	return out.Flush()
}

func deidentify(cs *core.Case, pseudonym string, key PseudonymKey, known core.DrugCodes) ([]deidentified, error) {
	zero := cs.Began
	if zero.IsZero() {
		zero = cs.Opened
	}
	var all []deidentified
	for _, e := range cs.Entries {
		if !e.In(cs.ID) {
			continue
		}
		v := e.Now()
		kind := v.Payload.Kind()
		keep, ok := keeps[kind.Name()]
		if _, unknown := v.Payload.(*timeline.Unknown); !ok || unknown {
			continue
		}
		data, err := strip(v.Payload, keep, known)
		if err != nil {
			return nil, err
		}
		if string(data) == "{}" && slices.Contains(wantContent, kind.Name()) {
			continue // what it said stays behind
		}
		all = append(all, deidentified{Case: pseudonym, Device: key.of("device", e.Root().Event.Log), N: len(all) + 1,
			Minute: int64(math.Floor(v.At.Sub(zero.Time).Minutes())), Kind: kind, Corrected: len(e.Versions) > 1, Data: data})
	}
	return all, nil
}

// strip gives the data of a payload with only these members.
func strip(p timeline.Payload, keep []string, known core.DrugCodes) (json.RawMessage, error) {
	drug := func(code string) string {
		if _, ok := known(code); !ok {
			return otherDrug
		}
		return code
	}
	switch q := p.(type) {
	case *timeline.Facts:
		f := *q
		age, err := coarseAge(f.Age)
		if err != nil {
			return nil, err
		}
		f.Age, p = age, &f
	case *timeline.Drug:
		d := *q
		d.Drug, p = drug(d.Drug), &d
	case *timeline.Infusion:
		d := *q
		d.Drug, p = drug(d.Drug), &d
	case *timeline.Plan:
		d := *q
		d.Drugs = slices.Clone(d.Drugs)
		for i := range d.Drugs {
			d.Drugs[i] = drug(d.Drugs[i])
		}
		p = &d
	}
	data, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(data, &members); err != nil {
		return nil, err
	}
	maps.DeleteFunc(members, func(name string, _ json.RawMessage) bool { return !slices.Contains(keep, name) })
	return json.Marshal(members)
}

var (
	oldest    = quantity.MustParse("90 a")
	twoYears  = quantity.MustParse("2 a")
	wholeYear = quantity.MustParse("1 a")
	wholeMo   = quantity.MustParse("1 mo")
)

// coarseAge rounds an age down: to whole months under two years, to whole
// years from there, and to 90 years for 90 and above.
func coarseAge(age quantity.Amount) (quantity.Amount, error) {
	if age.IsZero() {
		return age, nil
	}
	if n, err := age.Cmp(oldest); err != nil || n >= 0 {
		return oldest, err
	}
	step := wholeYear
	if n, err := age.Cmp(twoYears); err != nil {
		return age, err
	} else if n < 0 {
		step = wholeMo
	}
	in, err := age.In(step.Unit)
	if err != nil {
		return age, err
	}
	return in.Down(step)
}

// Deidentified is one line of a de-identified file, read back.
type Deidentified struct {
	Case, Device string
	N            int
	Minute       int64
	Kind         timeline.Kind
	Corrected    bool
	Data         map[string]json.RawMessage
}

// ReadDeidentified reads one line, strictly: a member that it does not know is
// an error, since it might be what should have stayed behind.
func ReadDeidentified(line []byte) (Deidentified, error) {
	var l deidentified
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	if err := d.Decode(&l); err != nil {
		return Deidentified{}, err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Deidentified{}, errors.New("the line goes on after its end")
	}
	keep, ok := keeps[l.Kind.Name()]
	if !ok {
		return Deidentified{}, fmt.Errorf("kind %q is not among those that go out", l.Kind)
	}
	r := Deidentified{Case: l.Case, Device: l.Device, N: l.N, Minute: l.Minute, Kind: l.Kind, Corrected: l.Corrected}
	if err := json.Unmarshal(l.Data, &r.Data); err != nil {
		return Deidentified{}, fmt.Errorf("data: %w", err)
	}
	for name := range r.Data {
		if !slices.Contains(keep, name) {
			return Deidentified{}, fmt.Errorf("data of %s: member %q is not among those that go out", l.Kind, name)
		}
	}
	return r, nil
}
