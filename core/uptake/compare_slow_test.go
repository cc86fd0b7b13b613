//go:build slow

package uptake

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"
)

var seed = flag.Uint64("seed", 0, "of the random schedules; 0 draws one")

// python finds a Python that has scipy; Debian's own comes first, because its
// package python3-scipy is what make deps installs.
func python(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"/usr/bin/python3", "python3"} {
		if exec.CommandContext(t.Context(), name, "-c", "import scipy").Run() == nil {
			return name
		}
	}
	t.Fatal("there is no python3 with scipy; make deps installs Debian's python3-scipy")
	return ""
}

type scipyPiece struct {
	Minutes  float64 `json:"minutes"`
	Inspired float64 `json:"inspired"`
	Alveolar float64 `json:"alveolar"`
	Output   float64 `json:"output"`
}

type scipyCase struct {
	BloodGas      float64      `json:"blood_gas"`
	Tissue        []float64    `json:"tissue"`
	Volumes       []float64    `json:"volumes_l"`
	FlowParts     []float64    `json:"flow_parts"`
	Gas           float64      `json:"gas_l"`
	Blood         float64      `json:"blood_l"`
	Extraction    float64      `json:"extraction"`
	Concentration bool         `json:"concentration"`
	Air           float64      `json:"air_mmhg"`
	Pieces        []scipyPiece `json:"pieces"`

	body Body
	set  Setting
}

// Random bodies, agents and schedules, solved by scipy and here, in one step and
// traced: tensions to
// 1e-8 of the greatest inspired one, volumes to 1e-8 of what was inspired.
func TestAgainstScipy(t *testing.T) {
	s := *seed
	if s == 0 {
		s = rand.Uint64()
	}
	t.Logf("repeat with -seed %d", s)
	r := rand.New(rand.NewPCG(s, s))
	pick := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	var cases []*scipyCase
	for i := range 120 {
		b := scaled(math.Exp(pick(math.Log(2), math.Log(150))))
		set := usual(t, modelled[r.IntN(len(modelled))])
		// Coefficients off the table's, too.
		set.BloodGas *= pick(0.7, 1.4)
		for p := Brain; p < places; p++ {
			set.Tissue[p] *= pick(0.7, 1.4)
		}
		if r.IntN(2) == 0 {
			set.Extraction = pick(0, 0.9)
		}
		set.Concentration = i%2 == 1
		set.AirMmHg = pick(400, 780)
		c := &scipyCase{
			BloodGas: set.BloodGas, Tissue: set.Tissue[Brain:], Volumes: b.VolumesL[Brain:], FlowParts: b.FlowParts[Brain:], Gas: b.GasL, Blood: b.BloodL,
			Extraction: set.Extraction, Concentration: set.Concentration, Air: set.AirMmHg, body: b, set: set,
		}
		for range 2 + r.IntN(8) {
			p := scipyPiece{pick(0.05, 60), pick(0, 0.7*set.AirMmHg), b.AlveolarLPerMin * pick(0.2, 3), b.OutputLPerMin * pick(0.3, 2)}
			switch r.IntN(5) {
			case 0:
				p.Inspired = 0
			case 1:
				p.Inspired = pick(0, 20)
			case 2:
				p.Alveolar = 0
			}
			c.Pieces = append(c.Pieces, p)
		}
		cases = append(cases, c)
	}
	in, err := json.Marshal(cases)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), python(t), "testdata/integrate.py")
	cmd.Stdin = bytes.NewReader(in)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, stderr.String())
	}
	var answers [][]struct{ LSODA, Expm []float64 }
	if err := json.Unmarshal(out, &answers); err != nil {
		t.Fatal(err)
	}
	if len(answers) != len(cases) {
		t.Fatalf("%d answers to %d cases", len(answers), len(cases))
	}
	var worst [3]float64 // LSODA, expm; LSODA with the concentration effect
	for i, c := range cases {
		var state, traced State
		scale, volume := 1e-3, 1e-6
		for j, p := range c.Pieces {
			set := c.set
			set.AlveolarLPerMin, set.OutputLPerMin = p.Alveolar, p.Output
			m, err := New(c.body, set)
			if err != nil {
				t.Fatal(err)
			}
			step(t, m, &state, p.Inspired, p.Minutes)
			var along [7][places]float64
			if err := m.Trace(&traced, p.Inspired, p.Minutes/float64(len(along)), along[:]); err != nil {
				t.Fatal(err)
			}
			scale, volume = math.Max(scale, p.Inspired), math.Max(volume, state.InspiredL)
			numbers := func(s State) []float64 { return append(s.TensionMmHg[:], s.InspiredL, s.ExpiredL, s.MetabolisedL) }
			got, byTrace := numbers(state), numbers(traced)
			for which, want := range [][]float64{answers[i][j].LSODA, answers[i][j].Expm} {
				if which == 1 && c.Concentration {
					if want != nil {
						t.Fatal("no exponential solves what is not linear")
					}
					continue
				}
				if len(want) != len(got) {
					t.Fatalf("case %d: %d numbers", i, len(want))
				}
				if c.Concentration {
					which = 2
				}
				for k := range got {
					of := scale
					if k >= int(places) {
						of = volume
					}
					off := math.Max(math.Abs(got[k]-want[k]), math.Abs(byTrace[k]-want[k])) / of
					worst[which] = math.Max(worst[which], off)
					if !(off <= 1e-8) {
						t.Errorf("case %d, piece %d, number %d: %v, traced %v, scipy has %v (%v of the scale)", i, j, k, got[k], byTrace[k], want[k], off)
					}
				}
			}
		}
	}
	t.Logf("off by at most %.1e of LSODA, %.1e of expm, %.1e of LSODA with the concentration effect", worst[0], worst[1], worst[2])
}
