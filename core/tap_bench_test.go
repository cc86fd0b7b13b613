//go:build slow

package core_test

import (
	"strconv"
	"testing"
)

// BenchmarkSubmit is one tap on a case of 300 entries, with the table's view
// worked out after it; without the disk it is what the companion itself costs.
func BenchmarkSubmit(b *testing.B) {
	c := openAt(b, b.TempDir(), newClock())
	id := openCase(b, c, "X")
	for i := range 300 {
		submit(b, c, id, "vitals", "pulse", strconv.Itoa(60+i%60), "systolic", "110", "diastolic", "70")
	}
	for b.Loop() {
		submit(b, c, id, "vitals", "pulse", "88", "systolic", "110", "diastolic", "70")
		if _, err := c.Table(b.Context(), id); err != nil {
			b.Fatal(err)
		}
	}
}
