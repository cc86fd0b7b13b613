package depth

import (
	"testing"
)

// whole is eight hours with a look and vitals every five minutes.
func whole(minutes float64) []Event {
	events := given()
	for m := 5.0; m <= minutes; m += 5 {
		events = append(events, seen(m, asleep)...)
	}
	return events
}

// BenchmarkUpdate is what one look costs: five minutes of a thousand bodies, of
// the two hundred that are told of no sign, and the weighing.
func BenchmarkUpdate(b *testing.B) {
	events := whole(24 * 60)
	r := newRun(b, who70, Options{Seed: 1})
	minute := 0.0
	b.ReportAllocs()
	for b.Loop() {
		if minute += 5; minute > 480 {
			b.StopTimer()
			r, minute = newRun(b, who70, Options{Seed: 1}), 5
			b.StartTimer()
		}
		if err := r.Update(events[:1+2*int(minute/5)], minute); err != nil {
			b.Fatal(err)
		}
		r.Estimate()
	}
}

// BenchmarkAhead is the look ahead of a whole sheet: three steps, too deep,
// waking.
func BenchmarkAhead(b *testing.B) {
	r := newRun(b, who70, Options{Seed: 1})
	at(b, r, whole(60), 60)
	b.ReportAllocs()
	for b.Loop() {
		for _, s := range StepCodes {
			if _, _, err := r.Ready(s, steady); err != nil {
				b.Fatal(err)
			}
		}
		if _, _, err := r.TooDeep(steady); err != nil {
			b.Fatal(err)
		}
		r.Waking()
	}
}

// BenchmarkReplay is a whole case of eight hours from its first event.
func BenchmarkReplay(b *testing.B) {
	events := whole(480)
	for b.Loop() {
		r := newRun(b, who70, Options{Seed: 1})
		at(b, r, events, 480)
	}
}

// BenchmarkLateEntry is an entry of ten minutes ago, and one of seven hours ago,
// in a case of eight hours: back to the checkpoint before, and on again.
func BenchmarkLateEntry(b *testing.B) {
	for name, ago := range map[string]float64{"10min": 10, "7h": 420} {
		b.Run(name, func(b *testing.B) {
			events := whole(480)
			late := events[:len(events):len(events)]
			i := 1
			for events[i].AtMin < 480-ago {
				i++
			}
			late = append(append(append([]Event{}, late[:i]...), Event{AtMin: events[i].AtMin, What: WhatLook, Look: Look{Jaw: asleep.Jaw}}), late[i:]...)
			r := newRun(b, who70, Options{Seed: 1})
			at(b, r, events, 480)
			for n := 0; b.Loop(); n++ {
				if n%2 == 0 {
					at(b, r, late, 480)
				} else {
					at(b, r, events, 480)
				}
			}
		})
	}
}
