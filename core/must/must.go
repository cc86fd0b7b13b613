// Package must is for tests alone: it takes the value of a call that may fail, or
// ends the test. No source imports it; the layering rules see to that. Where a
// test wants to know the error, or goes on after one, it is not for it.
package must

// T is what a test, a benchmark and a rapid check have in common.
type T interface {
	Helper()
	Fatal(args ...any)
}

// Get gives a function that gives the value of a call, and ends the test where
// the call failed: must.Get[[]byte](t)(os.ReadFile(name)).
func Get[V any](t T) func(v V, err error) V {
	return func(v V, err error) V {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}
