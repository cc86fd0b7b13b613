//go:build slow

package uptake

import (
	"bytes"
	"encoding/json"
	"math"
	"os/exec"
	"testing"

	"chinlift/core/term"
)

// BenchmarkAgainstLSODA is eight hours of ether, second by second, here and by
// scipy's LSODA to 1e-9, in one run: how many times faster, and by how much the two
// differ at the end, in parts of what is inspired. Where what is inspired changes
// with each second LSODA begins anew each time, which is what a bottle does to it;
// where it is held, LSODA takes few long steps and reads the seconds off them.
func BenchmarkAgainstLSODA(b *testing.B) {
	const seconds, inspired = 8 * 3600, 76.0
	for _, c := range []struct {
		name                    string
		concentration, changing bool
	}{{"linear/changing", false, true}, {"linear/held", false, false}, {"concentration/changing", true, true}, {"concentration/held", true, false}} {
		b.Run(c.name, func(b *testing.B) {
			set := usual(b, term.AgentEther)
			set.Concentration = c.concentration
			m := make70(b, set)
			in, err := json.Marshal(map[string]any{
				"capacity": m.capacity[:], "flow": m.flow[:], "liver": int(Liver), "extraction": set.Extraction, "alveolar": set.AlveolarLPerMin,
				"inspired": inspired, "air": set.AirMmHg, "concentration": c.concentration, "seconds": seconds, "changing": c.changing,
			})
			if err != nil {
				b.Fatal(err)
			}
			cmd := exec.CommandContext(b.Context(), python(b), "testdata/eighthours.py")
			cmd.Stdin = bytes.NewReader(in)
			out, err := cmd.Output()
			if err != nil {
				b.Fatal(err)
			}
			var scipy struct {
				Seconds float64
				End     []float64
			}
			if err := json.Unmarshal(out, &scipy); err != nil {
				b.Fatal(err)
			}
			pace, err := m.Every(1.0 / 60)
			if err != nil {
				b.Fatal(err)
			}
			var s State
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				s = State{}
				for k := range seconds {
					x := inspired
					if c.changing {
						x *= 1 + 0.5*float64(k%7)/7
					}
					if err := pace.Step(&s, x); err != nil {
						b.Fatal(err)
					}
				}
			}
			worst := 0.0
			for p, x := range s.TensionMmHg {
				worst = math.Max(worst, math.Abs(x-scipy.End[p])/inspired)
			}
			if !(worst < 1e-7) {
				b.Errorf("at the end the two differ by %v of what is inspired", worst)
			}
			b.ReportMetric(scipy.Seconds*1000, "LSODA-ms")
			b.ReportMetric(scipy.Seconds/(b.Elapsed().Seconds()/float64(b.N)), "times-faster")
			b.ReportMetric(worst*1e9, "differ-1e-9")
		})
	}
}
