package timeline

import (
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"chinlift/core/quantity"
)

// plainTypes have one way of being written: numbers with a unit of a closed
// list, and times.
var plainTypes = []reflect.Type{reflect.TypeFor[quantity.Amount](), reflect.TypeFor[quantity.Decimal](), reflect.TypeFor[Moment]()}

// texts calls do for each text of a payload that somebody could write into,
// with where it stands, and a way to set it.
func texts(v reflect.Value, where string, do func(where string, set func(string))) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			texts(v.Elem(), where, do)
		}
	case reflect.Struct:
		if slices.Contains(plainTypes, v.Type()) {
			return
		}
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if !f.IsExported() {
				continue
			}
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if f.Anonymous {
				name = where
			} else if where != "" {
				name = where + "." + name
			}
			texts(v.Field(i), name, do)
		}
	case reflect.Slice:
		for i := range v.Len() {
			texts(v.Index(i), where, do)
		}
	case reflect.String:
		was := v.String()
		do(where, v.SetString)
		v.SetString(was)
	}
}

// TestNoNameFitsIntoTheOpenPart: the event lies in the clear, and so no field of
// it takes a name. Those that take what somebody typed are on the list of
// docs/sealing.md.
func TestNoNameFitsIntoTheOpenPart(t *testing.T) {
	doc, err := os.ReadFile("../../docs/sealing.md")
	if err != nil {
		t.Fatal(err)
	}
	typed := map[string]bool{}
	tried := 0
	for _, p := range examples() {
		data, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		kind := p.Kind().Name()
		texts(reflect.ValueOf(p).Elem(), "", func(where string, set func(string)) {
			tried++
			for _, name := range []string{"Quentin Inventedson", "ሰው", "saw her at the well"} {
				if set(name); p.Check() == nil {
					t.Errorf("%s of %s takes %q (%s)", where, kind, name, data)
				}
			}
			// One word without blanks, in letters and digits: what is printed on a
			// box, or a code of a list that the clinic may add to.
			for _, word := range []string{"quentin", "QUENTIN-4711"} {
				if set(word); p.Check() == nil {
					typed[kind+"."+where] = true
				}
			}
		})
	}
	if tried < 100 {
		t.Fatalf("%d texts were tried", tried)
	}
	_, list, found := strings.Cut(string(doc), "<!-- open words -->")
	list, _, ended := strings.Cut(list, "<!-- -->")
	if !found || !ended {
		t.Fatal("docs/sealing.md has no list of the open words")
	}
	var want []string
	for i, s := range strings.Split(list, "`") {
		if i%2 == 1 {
			want = append(want, s)
		}
	}
	got := slices.Sorted(func(yield func(string) bool) {
		for k := range typed {
			if !yield(k) {
				return
			}
		}
	})
	if slices.Sort(want); !slices.Equal(got, want) {
		t.Errorf("docs/sealing.md names %q, and these take a word: %s", want, fmt.Sprintf("`%s`", strings.Join(got, "`, `")))
	}
}
