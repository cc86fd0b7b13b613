package main

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"chinlift/core"
)

var update = flag.Bool("update", false, "write the golden files anew; look at them before they are kept")

// golden compares with what is kept.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v (-update makes it)", err)
	}
	if got != string(want) {
		t.Errorf("%s is not as it was; if that is meant, run with -update and look at the change:\n%s", path, got)
	}
}

func TestReckonGolden(t *testing.T) {
	for _, c := range []struct {
		file string
		args []string
	}{
		{"reckon-infusion.json", []string{"infusion", "weight=70 kg", "dose_rate=30 ug/kg/min", "strength=1 mg/mL", "drops_per_ml=20"}},
		{"reckon-allowable-loss.json", []string{"allowable-loss", "weight=132 lb", "age=30 years", "sex=female", "start=45 %", "target=30 %", "weight_by=scale"}},
		{"reckon-burn-fluid.json", []string{"burn-fluid", "weight=70 kg", "area=30 %", "since=1,5 h", "age=40 y"}},
		{"reckon-dilution.json", []string{"dilution", "strength=1:1000", "wanted=1:200 000", "volume=20 mL"}},
		{"reckon-tube.json", []string{"tube", "age=4 y"}},
		{"reckon-weight-guess.json", []string{"weight-guess", "age=6 y", "length=112 cm"}},
		{"reckon-uptake.json", []string{"uptake", "agent=ether", "age=34 y", "weight=52 kg", "pressure=760 mmHg", "until=30 min", "schedule=@testdata/ether.schedule"}},
		{"reckon-lead.json", []string{"lead", "agent=ether", "age=34 y", "weight=52 kg", "pressure=760 mmHg", "until=20 min", "spo2=98 %", "systolic=110 mmHg", "eyes=still-central", "breathing=even-automatic", "deepen=10 %", "schedule=@testdata/ether.schedule"}},
		{"reckon-convert.json", []string{"convert", "from=1/100 gr", "to=mg"}},
	} {
		code, out, errs := desk(t, append([]string{"reckon"}, c.args...)...)
		if code != 0 || errs != "" {
			t.Errorf("desk reckon %q: exit code %d, %q", c.args, code, errs)
			continue
		}
		golden(t, c.file, out)
	}
}

// reckoned is what a script reads of a result.
type reckoned struct {
	Reckoning string
	Values    map[string]struct{ Value, Unit, Low, High, Code string }
	Cautions  []struct{ Code, Words string }
	Working   []struct{ Code, Words string }
	Sources   []struct {
		Title string
		Mark  struct{ Code string }
	}
}

func TestReckonIsOneObject(t *testing.T) {
	code, out, errs := desk(t, "reckon", "infusion", "weight=70kg", "dose-rate=30 mcg/kg/min", "strength=0.1 %", "drops-per-ml=20 drops/mL")
	if code != 0 || errs != "" {
		t.Fatalf("exit code %d, %q", code, errs)
	}
	d := json.NewDecoder(strings.NewReader(out))
	var r reckoned
	if err := d.Decode(&r); err != nil {
		t.Fatal(err)
	}
	if d.More() || r.Reckoning != "infusion" || len(r.Cautions) == 0 || len(r.Working) == 0 || len(r.Sources) == 0 {
		t.Errorf("printed %s", out)
	}
	if v := r.Values["drop_rate"]; v.Value != "42" || v.Unit != "{drop}/min" {
		t.Errorf("drop rate %+v", v)
	}
	if v := r.Values["rate"]; v.Value != "126" || v.Unit != "mL/h" {
		t.Errorf("rate %+v", v)
	}
}

func TestReckonListJSON(t *testing.T) {
	code, out, errs := desk(t, "reckon", "--json")
	if code != 0 || errs != "" {
		t.Fatalf("exit code %d, %q", code, errs)
	}
	var list struct {
		Words      string
		Reckonings []core.ReckoningView
		Units      []core.UnitView
	}
	if err := json.Unmarshal([]byte(out), &list); err != nil {
		t.Fatal(err)
	}
	if len(list.Reckonings) != len(core.Reckonings()) || len(list.Units) < 100 || list.Words == "" {
		t.Errorf("%d calculations, %d units, %q", len(list.Reckonings), len(list.Units), list.Words)
	}
	_, text, _ := desk(t, "reckon")
	for _, r := range list.Reckonings {
		if !strings.Contains(text, "\n"+r.Name+"  "+r.Words+"\n") {
			t.Errorf("the plain list lacks %s", r.Name)
		}
		for _, in := range r.Inputs {
			if len(in.Units)+len(in.Codes) == 0 && len(in.Write) == 0 && r.Name != "convert" {
				t.Errorf("%s %s says not how it is written", r.Name, in.Name)
			}
		}
	}
}

// TestReckonRefuses: exit code 2, an error that names the input, and no number.
func TestReckonRefuses(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", filepath.Join(t.TempDir(), "untouched"))
	for _, c := range []struct {
		args []string
		says []string
	}{
		{[]string{"infusions"}, []string{"no calculation infusions"}},
		{[]string{"infusion"}, []string{"infusion: dose_rate: it is missing", "infusion: strength: it is missing", "micrograms/kg/min", "drops per mL of the set"}},
		{[]string{"maintenance", "weight=70"}, []string{"maintenance: weight: 70 has no unit", "kg", "lb"}},
		{[]string{"maintenance", "weight=0 kg"}, []string{"maintenance: weight: 0 kg is too low", "0.3 kg and 400 kg"}},
		{[]string{"maintenance", "weight=700 kg"}, []string{"maintenance: weight: 700 kg is too high", "0.3 kg and 400 kg"}},
		{[]string{"maintenance", "weight=70 kg", "age=-3 y"}, []string{"maintenance: age: -3 y is too low"}},
		{[]string{"maintenance", "weight=70 mL"}, []string{"maintenance: weight: 70 mL is in a unit that does not fit", "kg, g, lb, stone"}},
		{[]string{"maintenance", "weight=70 kg", "wieght=70 kg"}, []string{"maintenance: wieght: there is no such input", "weight, age"}},
		{[]string{"maintenance", "weight"}, []string{"weight is no KEY=VALUE"}},
		{[]string{"maintenance", "weight=70 kg", "weight=80 kg"}, []string{"weight was given twice"}},
		{[]string{"infusion", "dose_rate=5 mg/h", "strength=1 %", "drops_per_ml=20", "drops-per-ml=60"}, []string{"drops_per_ml was given twice"}},
		{[]string{"blood-volume", "age=30 y"}, []string{"blood-volume: weight: it is missing"}},
		{[]string{"weight-for-age", "age=40 y"}, []string{"weight-for-age: age: no rule here covers 40 y"}},
		{[]string{"convert", "from=5 mg", "to=mL"}, []string{"convert: to: mL is in a unit that does not fit", "grain"}},
		{[]string{"--data", "x"}, []string{"-data", "Nothing was touched"}},
		{[]string{"--nonsense"}, []string{"nonsense"}},
	} {
		code, out, errs := desk(t, append([]string{"reckon"}, c.args...)...)
		if code != 2 || out != "" {
			t.Errorf("desk reckon %q: exit code %d, printed %q and %q", c.args, code, out, errs)
		}
		for _, s := range c.says {
			if !strings.Contains(errs, s) {
				t.Errorf("desk reckon %q does not say %q:\n%s", c.args, s, errs)
			}
		}
	}
	if _, err := os.Stat(os.Getenv("XDG_DATA_HOME")); err == nil {
		t.Error("a calculation made a folder")
	}
}

func TestReckonMissingGolden(t *testing.T) {
	code, _, errs := desk(t, "reckon", "local-maximum", "weight=70")
	if code != 2 {
		t.Errorf("exit code %d", code)
	}
	golden(t, "reckon-missing.txt", errs)
}

// TestReckonFromFile: a file that is not there, or is no schedule, is refused with
// its name, or its line.
func TestReckonFromFile(t *testing.T) {
	args := []string{"reckon", "uptake", "agent=ether", "age=34 y", "weight=52 kg", "pressure=760 mmHg", "until=30 min"}
	for given, want := range map[string]string{
		"schedule=@testdata/no-such-file": "no-such-file",
		"schedule=@testdata":              "testdata",
		"schedule=@main.go":               "a time, a comma and a percentage",
	} {
		if code, out, errs := desk(t, append(args, given)...); code == 0 || out != "" || !strings.Contains(errs, want) {
			t.Errorf("%s: exit code %d, %q, %q", given, code, out, errs)
		}
	}
}
