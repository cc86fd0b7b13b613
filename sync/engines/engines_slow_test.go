//go:build slow

package engines

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"math/big"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"chinlift/core"
	"chinlift/core/must"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
	"chinlift/sync/carrier"
	"chinlift/sync/outbox"
	"chinlift/sync/plain"
	"chinlift/testdata/demo"
)

// noon is an invented moment.
var noon = time.Date(2026, 3, 9, 12, 0, 0, 0, time.UTC)

type clock struct{}

func (clock) Now() core.Reading {
	return core.Reading{Wall: noon, Zone: "Etc/UTC", SinceBoot: time.Hour, Boot: "boot"}
}

func open(t *testing.T, installation string) *core.Companion {
	t.Helper()
	c := must.Get[*core.Companion](t)(core.Open(t.Context(), core.Options{Dir: t.TempDir(), Installation: installation, Clock: clock{}, Words: word.English()}))
	t.Cleanup(func() { c.Close() })
	return c
}

// record enters cases at a clinic, with what makes a reader stumble: a dose
// that was corrected, one that was struck, one that was struck and restored,
// one that belongs to another case, a trouble that came twice, a name with
// everything that CSV must quote.
func record(t *testing.T, c *core.Companion) {
	t.Helper()
	var first string
	for i, technique := range []term.Technique{term.TechniqueOpenDrop, term.TechniqueOpenDrop, term.TechniqueSpinal, term.TechniqueKetamine} {
		id, _, err := c.OpenCase(t.Context(), core.Form{ID: core.NewID(), Fields: map[string][]string{"name": {"Invented, \"Person\"\nof two lines"}}})
		if err != nil {
			t.Fatal(err)
		}
		enter := func(p timeline.Payload) string {
			tap := core.NewID()
			must.Get[core.Done](t)(c.Record(t.Context(), core.Tap{ID: tap, Scope: timeline.ScopeCase, About: id, Payload: p}))
			return tap
		}
		dose := func(drug, amount string) *timeline.Drug {
			return &timeline.Drug{Drug: drug, Dose: quantity.MustParse(amount), Route: term.RouteIv}
		}
		enter(&timeline.Plan{Techniques: []term.Technique{technique, term.TechniqueSedation}})
		enter(&timeline.Facts{ASA: []term.ASA{term.ASA1, term.ASA3}[i%2], Supervision: []term.Supervision{term.SupervisionAlone, term.SupervisionRoom}[i%2]})
		enter(&timeline.Facts{Weight: quantity.MustParse("80 kg"), WeightHow: term.WeightHowMeasured, WeightBy: term.WeightByScale})
		if i%2 == 0 {
			enter(&timeline.Facts{WeightChecked: quantity.MustParse("80 kg")})
		}
		enter(&timeline.Phase{Phase: term.PhaseAnaesthesiaStart})
		enter(&timeline.Phase{Phase: term.PhaseHandedOver, Home: []string{timeline.Yes, timeline.No}[i%2]})
		enter(&timeline.Trouble{Trouble: term.TroubleHypotension, Act: term.TroubleActBegun})
		enter(&timeline.Trouble{Trouble: term.TroubleHypotension, Act: term.TroubleActBegun})
		given := enter(dose("ketamine", "25 mg"))
		must.Get[core.Done](t)(c.Correct(t.Context(), core.NewID(), id, given, []string{given}, term.ReasonMistyped, dose("ketamine", "30 mg"), timeline.Moment{}, nil))
		gone := enter(dose("diazepam", "5 mg"))
		must.Get[core.Done](t)(c.Strike(t.Context(), core.NewID(), id, gone, []string{gone}, term.ReasonMistyped))
		back, strike := enter(dose("fentanyl", "0.05 mg")), core.NewID()
		must.Get[core.Done](t)(c.Strike(t.Context(), strike, id, back, []string{back}, term.ReasonMistyped))
		must.Get[core.Done](t)(c.Restore(t.Context(), core.NewID(), id, back, []string{strike}))
		if first == "" {
			first = id
			continue
		}
		other := enter(dose("atropine", "0.5 mg"))
		must.Get[core.Done](t)(c.Move(t.Context(), core.NewID(), id, first, other, []string{other}))
	}
}

// gathered is what two clinics carried to one folder, and one companion that
// took all of it in.
func gathered(t *testing.T) (folder string, all *core.Companion) {
	t.Helper()
	folder = t.TempDir()
	all = open(t, "together")
	// The demo's logs are those of three devices of one clinic.
	one := open(t, "one")
	for _, name := range slices.Sorted(maps.Keys(demo.Files())) {
		must.Get[plain.Replayed](t)(plain.Replay(t.Context(), bytes.NewReader(demo.Files()[name]), one))
	}
	two := open(t, "two")
	record(t, two)
	for name, c := range map[string]*core.Companion{"one": one, "two": two} {
		box := outbox.Outbox{Table: c.Outgoing(), Blob: c.Blob, Now: func() time.Time { return noon }, Rand: func() float64 { return 0.5 }}
		r := must.Get[outbox.Result](t)(box.Run(t.Context(), outbox.Destination{Name: name, Carrier: carrier.Folder{Root: folder}, Private: true}, true))
		if r.Confirmed == 0 || r.Stopped != "" {
			t.Fatalf("nothing was carried: %+v", r)
		}
	}
	// What arrived is the whole; another device carries a part of it again.
	found := must.Get[plain.Found](t)(plain.Find([]string{folder}))
	if len(found.Lines) < 4 {
		t.Fatalf("%d segments: too few to show anything", len(found.Lines))
	}
	for _, path := range found.Lines {
		g := must.Get[plain.Gathered](t)(plain.GatherLines(t.Context(), path, plain.Unseal{}, all))
		if g.Err != nil || g.New == 0 {
			t.Fatalf("%+v", g)
		}
	}
	again := must.Get[[]byte](t)(os.ReadFile(found.Lines[0]))
	begin, _, _ := bytes.Cut(again, []byte("\n"))
	if err := os.WriteFile(filepath.Join(filepath.Dir(found.Lines[0]), "000000000001-000000000001-again.jsonl"), append(begin, '\n'), 0o600); err != nil {
		t.Fatal(err)
	}
	return folder, all
}

// answers is what each question must give, as the companion works it out.
func answers(t *testing.T, c *core.Companion) map[string][][]string {
	t.Helper()
	techniques, outcomes := map[string]int{}, map[string]int{}
	troubles, doses, casesOf := map[string]map[string]bool{}, map[string]int{}, map[string]map[string]bool{}
	sums, casesOfUnit := map[string]*big.Rat{}, map[string]map[string]bool{}
	put := func(m map[string]map[string]bool, key, id string) {
		if m[key] == nil {
			m[key] = map[string]bool{}
		}
		m[key][id] = true
	}
	cases, weighed, looked, over, home := 0, map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	logbook, rules := map[string]int{}, map[string]int{}
	for id, err := range c.Cases(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		cases++
		cs := must.Get[*core.Case](t)(c.Case(t.Context(), id))
		for _, name := range cs.Plan.Techniques {
			techniques[string(name)]++
		}
		outcomes[string(cs.Facts.ASA)+"|"+string(cs.Outcome)]++
		stand := c.Stands(t.Context(), cs)
		if row := must.Get[core.LogbookRow](t)(core.LogbookOf(cs)); row.Begun {
			logbook[row.By+"|"+string(row.Supervision)]++
		}
		for _, e := range cs.Entries {
			now := e.Now()
			if now.Struck || now.Case != id {
				continue
			}
			switch p := now.Payload.(type) {
			case *timeline.Drug:
				doses[p.Drug]++
				put(casesOf, p.Drug, id)
				value, unit, _ := strings.Cut(p.Dose.String(), " ")
				key := p.Drug + "|" + unit
				if sums[key] == nil {
					sums[key] = new(big.Rat)
				}
				r, ok := new(big.Rat).SetString(value)
				if !ok {
					t.Fatal(value)
				}
				sums[key].Add(sums[key], r)
				put(casesOfUnit, key, id)
				st := must.Get[core.Stand](t)(stand(e, now))
				sure := map[bool]string{true: timeline.Yes, false: timeline.No}[st.Sure]
				if st.Why != "" {
					sure = ""
				}
				rules[sure+"|"+string(st.Why)]++
			case *timeline.Facts:
				if !p.Weight.IsZero() {
					weighed[id] = true
				}
				if !p.WeightChecked.IsZero() {
					looked[id] = true
				}
			case *timeline.Phase:
				if p.Phase == term.PhaseHandedOver {
					over[id] = true
					if p.Home == timeline.Yes {
						home[id] = true
					}
				}
			case *timeline.Trouble:
				if p.Act == term.TroubleActBegun {
					put(troubles, string(p.Trouble), id)
				}
			}
		}
	}
	want := map[string][][]string{}
	for _, k := range slices.Sorted(maps.Keys(techniques)) {
		want["techniques"] = append(want["techniques"], []string{k, strconv.Itoa(techniques[k])})
	}
	for _, k := range slices.Sorted(maps.Keys(outcomes)) {
		asa, outcome, _ := strings.Cut(k, "|")
		want["outcomes"] = append(want["outcomes"], []string{asa, outcome, strconv.Itoa(outcomes[k])})
	}
	for _, k := range slices.Sorted(maps.Keys(doses)) {
		want["drugs"] = append(want["drugs"], []string{k, strconv.Itoa(doses[k]), strconv.Itoa(len(casesOf[k]))})
	}
	for _, k := range slices.Sorted(maps.Keys(troubles)) {
		want["troubles"] = append(want["troubles"], []string{k, strconv.Itoa(len(troubles[k])), strconv.Itoa(cases)})
	}
	want["deidentified"] = want["troubles"]
	want["home"] = [][]string{{strconv.Itoa(len(home)), strconv.Itoa(len(over))}}
	want["weights"] = [][]string{{strconv.Itoa(len(looked)), strconv.Itoa(len(weighed))}}
	if len(home) == 0 || len(home) == len(over) || len(looked) == 0 || len(looked) == len(weighed) || len(logbook) < 3 || len(rules) < 2 {
		t.Fatalf("too little to tell anything apart: %v %v %v %v", want["home"], want["weights"], logbook, rules)
	}
	for name, counts := range map[string]map[string]int{"logbook": logbook, "rules": rules} {
		for _, k := range slices.Sorted(maps.Keys(counts)) {
			first, second, _ := strings.Cut(k, "|")
			want[name] = append(want[name], []string{first, second, strconv.Itoa(counts[k])})
		}
	}
	for _, k := range slices.SortedFunc(maps.Keys(sums), func(a, b string) int {
		x, y := strings.Split(a, "|"), strings.Split(b, "|")
		return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1]))
	}) {
		drug, unit, _ := strings.Cut(k, "|")
		n := len(casesOfUnit[k])
		mean := new(big.Rat).Quo(sums[k], big.NewRat(int64(n), 1))
		want["amounts"] = append(want["amounts"], []string{drug, unit, mean.FloatString(3), strconv.Itoa(n)})
	}
	return want
}

// query is one block of the page.
type query struct{ engine, name, sql string }

var block = regexp.MustCompile("(?s)```sql ([a-z]+) ([a-z]+)\n(.*?)```")

// queries reads the page: what a reader copies is what is run.
func queries(t *testing.T, engine string) (all []query) {
	t.Helper()
	page := must.Get[[]byte](t)(os.ReadFile(filepath.FromSlash("../../docs/many-clinics.md")))
	for _, m := range block.FindAllSubmatch(page, -1) {
		if string(m[1]) == engine {
			all = append(all, query{string(m[1]), string(m[2]), string(m[3])})
		}
	}
	if n := bytes.Count(page, []byte("```sql ")); n != len(block.FindAll(page, -1)) {
		t.Fatalf("%d blocks of SQL on the page, and %d that could be read", n, len(block.FindAll(page, -1)))
	}
	return all
}

// same compares an answer with what the companion says.
func same(t *testing.T, q query, got, want [][]string) {
	t.Helper()
	if len(want) == 0 {
		t.Fatalf("%s %s: there is nothing to compare with", q.engine, q.name)
	}
	byRow := func(a, b []string) int { return slices.Compare(a, b) }
	got, want = slices.SortedFunc(slices.Values(got), byRow), slices.SortedFunc(slices.Values(want), byRow)
	if g, w := fmt.Sprint(got), fmt.Sprint(want); g != w {
		t.Errorf("%s %s:\n%s\nthe companion says\n%s", q.engine, q.name, g, w)
	}
}

// duckPython lies where make deps puts it.
const duckPython = "../../.build/duckdb/bin/python"

// duck runs queries in one session, from the folder in which the files lie.
const duck = `
import duckdb, json, sys
db = duckdb.connect()
for q in json.load(sys.stdin):
    rows = db.execute(q).fetchall()
    print(json.dumps([[str(v) for v in r] for r in rows]))
`

func TestDuckDB(t *testing.T) {
	folder, all := gathered(t)
	want := answers(t, all)
	must.Get[[]string](t)(plain.Export(t.Context(), all, folder, plain.Options{Private: true, Made: noon}))
	must.Get[[]string](t)(plain.Export(t.Context(), all, folder, plain.Options{Pseudonyms: must.Get[plain.PseudonymKey](t)(plain.NewPseudonymKey())}))
	qs := queries(t, "duckdb")
	var texts []string
	for _, q := range qs {
		texts = append(texts, q.sql)
	}
	python := must.Get[string](t)(filepath.Abs(filepath.FromSlash(duckPython)))
	cmd := exec.Command(python, "-c", duck)
	cmd.Dir = folder
	cmd.Stdin = bytes.NewReader(must.Get[[]byte](t)(json.Marshal(texts)))
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("run make deps: %v\n%s", err, stderr.String())
	}
	answered := 0
	d := json.NewDecoder(bytes.NewReader(out))
	for _, q := range qs {
		var rows [][]string
		if err := d.Decode(&rows); err != nil {
			t.Fatal(err)
		}
		if q.name == "segments" {
			continue // makes the views
		}
		same(t, q, rows, want[q.name])
		answered++
	}
	if answered < 5 {
		t.Errorf("%d questions were asked", answered)
	}
}

// postgres starts a server of its own on a socket in a folder, and gives the
// means to run psql against it.
func postgres(t *testing.T) func(dir, sql string) []byte {
	t.Helper()
	// The newest of those that Debian put here.
	bins := must.Get[[]string](t)(filepath.Glob("/usr/lib/postgresql/*/bin"))
	if len(bins) == 0 {
		t.Fatal("run make deps: there is no PostgreSQL")
	}
	bin := slices.MaxFunc(bins, func(a, b string) int {
		number := func(s string) int { n, _ := strconv.Atoi(filepath.Base(filepath.Dir(s))); return n }
		return cmp.Compare(number(a), number(b))
	})
	base := must.Get[string](t)(os.MkdirTemp("", "chinlift-pg")) // a socket's path must be short
	t.Cleanup(func() {
		if err := os.RemoveAll(base); err != nil {
			t.Error(err)
		}
	})
	data := filepath.Join(base, "data")
	var as *syscall.SysProcAttr
	if os.Geteuid() == 0 { // the server refuses to run as root
		u := must.Get[*user.User](t)(user.Lookup("nobody"))
		uid, gid := must.Get[int](t)(strconv.Atoi(u.Uid)), must.Get[int](t)(strconv.Atoi(u.Gid))
		as = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
		if err := os.Chown(base, uid, gid); err != nil {
			t.Fatal(err)
		}
	}
	run := func(name string, args ...string) {
		t.Helper()
		cmd := exec.Command(filepath.Join(bin, name), args...)
		cmd.Dir, cmd.SysProcAttr = base, as
		log := filepath.Join(base, name+".log")
		f := must.Get[*os.File](t)(os.Create(log)) // a pipe would stay open with the server
		cmd.Stdout, cmd.Stderr = f, f
		err := cmd.Run()
		f.Close()
		if err != nil {
			said, _ := os.ReadFile(log)
			t.Fatalf("%s: %v\n%s", name, err, said)
		}
	}
	run("initdb", "-D", data, "-U", "clinic", "--auth=trust", "--encoding=UTF8", "--no-locale", "--no-sync")
	run("pg_ctl", "-D", data, "-w", "-t", "60", "-l", filepath.Join(base, "server.log"), "-o", "-c listen_addresses= -k "+base, "start")
	t.Cleanup(func() { run("pg_ctl", "-D", data, "-w", "-m", "immediate", "stop") })
	return func(dir, sql string) []byte {
		t.Helper()
		cmd := exec.Command(filepath.Join(bin, "psql"), "-X", "-q", "--csv", "-t", "-v", "ON_ERROR_STOP=1", "-h", base, "-U", "clinic", "postgres")
		cmd.Dir, cmd.Stdin = dir, strings.NewReader(sql)
		var stderr bytes.Buffer
		cmd.Stderr = &stderr
		out, err := cmd.Output()
		if err != nil || stderr.Len() > 0 {
			t.Fatalf("psql: %v\n%s\n%s", err, stderr.String(), sql)
		}
		return out
	}
}

func TestPostgreSQL(t *testing.T) {
	_, all := gathered(t)
	want := answers(t, all)
	dir := t.TempDir()
	must.Get[[]string](t)(plain.Export(t.Context(), all, dir, plain.Options{Private: true, Made: noon}))
	psql := postgres(t)
	answered := 0
	for _, q := range queries(t, "postgres") {
		out := psql(dir, q.sql)
		if q.name == "load" {
			continue
		}
		same(t, q, must.Get[[][]string](t)(csv.NewReader(bytes.NewReader(out)).ReadAll()), want[q.name])
		answered++
	}
	if answered < 5 {
		t.Errorf("%d questions were asked", answered)
	}
	// Nothing was lost on the way in, whatever a cell holds.
	names := psql(dir, "SELECT count(*) FROM chinlift.cases WHERE name = E'Invented, \"Person\"\\nof two lines'")
	if strings.TrimSpace(string(names)) != "4" {
		t.Errorf("the names came in otherwise: %s", names)
	}
}
