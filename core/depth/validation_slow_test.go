//go:build slow

package depth

import "testing"

// The same with more patients, of seeds that nobody looked at before.
func TestValidationLong(t *testing.T) {
	const from, n = 3000, 200
	y, err := together(from, n)
	if err != nil {
		t.Fatal(err)
	}
	report := y.report(from, n)
	t.Log("\n" + report)
	golden(t, "testdata/validation_long.txt", report)
}
