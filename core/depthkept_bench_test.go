//go:build slow

package core_test

import (
	"strconv"
	"testing"
	"time"

	"chinlift/core"
)

// BenchmarkTapWhileDepthIsFollowed is a tap on vitals every minute, with the band of
// depth taken along and without: what the answer waits for besides the tap's own
// commit, a minute of the bodies and a second commit.
func BenchmarkTapWhileDepthIsFollowed(b *testing.B) {
	for _, c := range []struct {
		name  string
		shown bool
	}{{"alone", false}, {"followed", true}} {
		b.Run(c.name, func(b *testing.B) {
			clock := newClock()
			companion := openAt(b, b.TempDir(), clock)
			id := openCase(b, companion, "Invented")
			submit(b, companion, id, "agent", "agent", "ether", "drops", "120")
			submit(b, companion, id, "vitals", "systolic", "110", "pulse", "90", "spo2", "98")
			submit(b, companion, id, "signs", "breathing", "even-automatic", "eyes", "still-central")
			if c.shown {
				cs, err := companion.Case(b.Context(), id)
				if err != nil {
					b.Fatal(err)
				}
				if _, err := companion.ShowDepth(b.Context(), cs, core.DepthIf{}); err != nil {
					b.Fatal(err)
				}
			}
			n := 0
			for b.Loop() {
				if n++; n%300 == 0 { // a case of five hours
					b.StopTimer()
					id = openCase(b, companion, "Invented")
					submit(b, companion, id, "agent", "agent", "ether", "drops", "120")
					if c.shown {
						submit(b, companion, id, "signs", "breathing", "even-automatic", "eyes", "still-central")
						cs, err := companion.Case(b.Context(), id)
						if err != nil {
							b.Fatal(err)
						}
						if _, err := companion.ShowDepth(b.Context(), cs, core.DepthIf{}); err != nil {
							b.Fatal(err)
						}
					}
					b.StartTimer()
				}
				clock.pass(time.Minute)
				submit(b, companion, id, "vitals", "systolic", "110", "pulse", strconv.Itoa(80+n%20), "spo2", "98")
			}
		})
	}
}
