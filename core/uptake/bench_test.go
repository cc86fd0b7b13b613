package uptake

import (
	"testing"

	"chinlift/core/term"
)

func BenchmarkNew(b *testing.B) {
	body, set := scaled(70), usual(b, term.AgentEther)
	for b.Loop() {
		if _, err := New(body, set); err != nil {
			b.Fatal(err)
		}
	}
}

func benchmarkStep(b *testing.B, concentration bool, steps int) {
	set := usual(b, term.AgentEther)
	set.Concentration = concentration
	m := make70(b, set)
	b.ReportAllocs()
	for b.Loop() {
		var s State
		for range steps {
			step(b, m, &s, 76, 1.0/60)
		}
	}
}

func BenchmarkStep(b *testing.B)              { benchmarkStep(b, false, 1) }
func BenchmarkStepConcentration(b *testing.B) { benchmarkStep(b, true, 1) }

// Eight hours, second by second.
func BenchmarkEightHours(b *testing.B)              { benchmarkStep(b, false, 8*3600) }
func BenchmarkEightHoursConcentration(b *testing.B) { benchmarkStep(b, true, 8*3600) }
