package plain

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"chinlift/core/must"
	"chinlift/core/quantity"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/testdata/demo"
)

type object = map[string]any

const draft = "https://json-schema.org/draft/2020-12/schema"

// kebab writes the name of a type as lists are named.
func kebab(s string) string {
	var b strings.Builder
	for i, r := range s {
		if unicode.IsUpper(r) && i > 0 {
			b.WriteByte('-')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// listOf gives the codes of the list that a type of package term has.
func listOf(t *testing.T, typ reflect.Type) []string {
	t.Helper()
	name := map[string]string{"ASA": "asa", "BlockKind": "block", "MouthOpening": "mouth"}[typ.Name()]
	if name == "" {
		name = kebab(typ.Name())
	}
	for _, l := range term.Lists() {
		if l.Name == name {
			return l.Codes
		}
	}
	t.Fatalf("no list is named %q, for the type %s", name, typ)
	return nil
}

// typeSchema describes what a member's type is written as.
func typeSchema(t *testing.T, typ reflect.Type) object {
	switch typ {
	case reflect.TypeFor[quantity.Amount]():
		return object{"$ref": "#/$defs/amount"}
	case reflect.TypeFor[quantity.Decimal]():
		return object{"$ref": "#/$defs/decimal"}
	case reflect.TypeFor[timeline.Moment]():
		return object{"$ref": "#/$defs/moment"}
	case reflect.TypeFor[timeline.Hash]():
		return object{"$ref": "#/$defs/hash"}
	}
	switch typ.Kind() {
	case reflect.Bool:
		return object{"type": "boolean"}
	case reflect.Int, reflect.Int64:
		return object{"type": "integer"}
	case reflect.Pointer:
		return typeSchema(t, typ.Elem())
	case reflect.Slice:
		return object{"type": "array", "items": typeSchema(t, typ.Elem())}
	case reflect.Struct:
		return structSchema(t, typ)
	case reflect.String:
		if strings.HasSuffix(typ.PkgPath(), "core/term") {
			return object{"enum": listOf(t, typ)}
		}
		return object{"type": "string"}
	}
	t.Fatalf("no schema for %s", typ)
	return nil
}

// structSchema describes the data of a kind. A member that a newer version put
// in is allowed.
func structSchema(t *testing.T, typ reflect.Type) object {
	properties, required := object{}, []string{}
	var walk func(reflect.Type)
	walk = func(typ reflect.Type) {
		for i := range typ.NumField() {
			f := typ.Field(i)
			name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
			if f.Anonymous {
				walk(f.Type)
				continue
			}
			properties[name] = typeSchema(t, f.Type)
			if options == "" {
				required = append(required, name)
			}
		}
	}
	walk(typ)
	s := object{"type": "object", "properties": properties}
	if len(required) > 0 {
		s["required"] = required
	}
	return s
}

func commonDefs() object {
	return object{
		"hash":    object{"type": "string", "pattern": "^[0-9a-f]{64}$", "description": "SHA-256, lower case"},
		"uuid":    object{"type": "string", "pattern": "^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"},
		"amount":  object{"type": "string", "pattern": `^-?[0-9]+(\.[0-9]+)? [^ ]+$`, "description": "a decimal as it was entered, a space, a UCUM code"},
		"decimal": object{"type": "string", "pattern": `^-?[0-9]+(\.[0-9]+)?$`},
		"moment": object{"type": "string", "pattern": `^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,3})?(Z|[+-][0-9]{2}:[0-9]{2})(\[[!-~]+\])?$`,
			"description": "RFC 9557: date, time, offset, and the name of the zone where it is known"},
	}
}

func lineSchemaOf(t *testing.T) object {
	defs := commonDefs()
	var byKind []object
	for _, k := range timeline.Kinds() {
		p := timeline.Blank(k.Name())
		defs[k.Name()] = structSchema(t, reflect.TypeOf(p).Elem())
		byKind = append(byKind, object{"if": object{"properties": object{"kind": object{"const": string(k)}}},
			"then": object{"properties": object{"data": object{"$ref": "#/$defs/" + k.Name()}}}})
	}
	uuid, hash, moment := object{"$ref": "#/$defs/uuid"}, object{"$ref": "#/$defs/hash"}, object{"$ref": "#/$defs/moment"}
	counts := object{"type": "integer", "minimum": 1, "maximum": 1 << 53}
	defs["event"] = object{
		"type": "object",
		"properties": object{
			"v": object{"type": "integer", "minimum": 1}, "id": uuid, "log": uuid, "seq": counts, "tick": counts, "prev": hash,
			"scope": object{"enum": []string{"case", "clinic", "device"}}, "about": object{"type": "string", "minLength": 1}, "at": moment,
			"entered": object{"type": "object", "required": []string{"wall", "since_boot_ms", "boot"},
				"properties": object{"wall": moment, "since_boot_ms": object{"type": "integer"}, "boot": object{"type": "string"}}},
			"author": uuid, "kind": object{"type": "string", "pattern": "^[a-z0-9-]+/[1-9][0-9]*$"}, "data": object{"type": "object"},
			"amends": uuid, "replaces": object{"type": "array", "items": uuid}, "reason": object{"type": "string"}, "private": hash,
		},
		"required":          []string{"v", "id", "log", "seq", "tick", "prev", "scope", "about", "at", "entered", "author", "kind", "data"},
		"dependentRequired": object{"replaces": []string{"amends"}, "reason": []string{"amends"}},
		"allOf":             byKind,
	}
	return object{
		"$schema": draft, "$id": "urn:x-chinlift:schema:line:1", "title": "A line of lines.jsonl",
		"description": "FORMAT.md tells what the members say. A kind that is not listed is one of a newer version, and allowed.",
		"type":        "object", "required": []string{"e", "h"}, "additionalProperties": false,
		"properties": object{"e": object{"$ref": "#/$defs/event"}, "h": hash,
			"p": object{"type": "object", "required": []string{"salt"}, "additionalProperties": object{"type": "string"}}},
		"$defs": defs,
	}
}

func deidentifiedSchemaOf(t *testing.T) object {
	defs := commonDefs()
	var byKind []object
	var kinds []string
	for _, k := range timeline.Kinds() {
		keep, ok := keeps[k.Name()]
		if !ok {
			continue
		}
		kinds = append(kinds, string(k))
		s := structSchema(t, reflect.TypeOf(timeline.Blank(k.Name())).Elem())
		properties := s["properties"].(object)
		for name := range properties {
			if !slices.Contains(keep, name) {
				delete(properties, name)
			}
		}
		delete(s, "required")
		s["additionalProperties"] = false
		defs[k.Name()] = s
		byKind = append(byKind, object{"if": object{"properties": object{"kind": object{"const": string(k)}}},
			"then": object{"properties": object{"data": object{"$ref": "#/$defs/" + k.Name()}}}})
	}
	pseudonym := object{"type": "string", "pattern": "^[0-9a-f]{32}$"}
	return object{
		"$schema": draft, "$id": "urn:x-chinlift:schema:deidentified:1", "title": "A line of deidentified.jsonl",
		"type": "object", "required": []string{"case", "device", "n", "minute", "kind", "data"}, "additionalProperties": false,
		"properties": object{"case": pseudonym, "device": pseudonym, "n": object{"type": "integer", "minimum": 1},
			"minute":    object{"type": "integer", "description": "minutes since the anaesthetic began; where it did not, since the case was opened"},
			"corrected": object{"type": "boolean"}, "kind": object{"enum": kinds}, "data": object{"type": "object"}},
		"allOf": byKind, "$defs": defs,
	}
}

func manifestSchemaOf() object {
	return object{
		"$schema": draft, "$id": "urn:x-chinlift:schema:manifest:1", "title": "manifest.json",
		"type": "object", "required": []string{"format", "form", "files"}, "additionalProperties": false,
		"properties": object{"format": object{"const": manifestFormat}, "form": object{"enum": []Form{FormPrivate, FormPublic, FormDeidentified}},
			"files": object{"type": "array", "items": object{"type": "object", "required": []string{"name", "bytes", "sha256"}, "additionalProperties": false,
				"properties": object{"name": object{"type": "string", "pattern": plainName.String()}, "bytes": object{"type": "integer", "minimum": 0},
					"sha256": object{"type": "string", "pattern": "^[0-9a-f]{64}$"}}}}},
	}
}

// TestSchemas holds the schemas that go out against the types they describe.
func TestSchemas(t *testing.T) {
	for name, s := range map[string]object{"line": lineSchemaOf(t), "deidentified": deidentifiedSchemaOf(t), "manifest": manifestSchemaOf()} {
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		e.SetIndent("", " ")
		if err := e.Encode(s); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join("schema", name+".schema.json")
		if *update {
			if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if want := must.Get[[]byte](t)(os.ReadFile(path)); !bytes.Equal(b.Bytes(), want) {
			t.Errorf("%s is no longer what the types say; run with -update and look at the change", path)
		}
	}
}

func compiled(t *testing.T, name string) *jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	return must.Get[*jsonschema.Schema](t)(c.Compile(filepath.Join("schema", name+".schema.json")))
}

func validate(t *testing.T, s *jsonschema.Schema, text []byte) error {
	t.Helper()
	v := must.Get[any](t)(jsonschema.UnmarshalJSON(bytes.NewReader(text)))
	return s.Validate(v)
}

// Every line of the demo, of the golden story and of the worked example fits
// the schema, and what is no line does not.
func TestLinesFitTheSchema(t *testing.T) {
	s := compiled(t, "line")
	files := demo.Files()
	files["story"] = must.Get[[]byte](t)(os.ReadFile(filepath.Join("testdata", "story.jsonl")))
	n := 0
	for name, data := range files {
		for line := range bytes.Lines(data) {
			if err := validate(t, s, line); err != nil {
				t.Fatalf("%s: %s: %v", name, line, err)
			}
			n++
		}
	}
	if n < 400 {
		t.Errorf("only %d lines were looked at", n)
	}
	line, _, _ := bytes.Cut(files["story"], []byte("\n"))
	for from, to := range map[string]string{`"h":"`: `"h":"x`, `"seq":1`: `"seq":0`, `"tick":1`: `"tick":"1"`, `{"e":`: `{"x":1,"e":`, `"scope":"device"`: `"scope":"ward"`} {
		bad := bytes.Replace(line, []byte(from), []byte(to), 1)
		if bytes.Equal(bad, line) {
			t.Fatalf("%s is not in %s", from, line)
		}
		if validate(t, s, bad) == nil {
			t.Errorf("with %s instead of %s it still fits", to, from)
		}
	}
	vitals := bytes.Replace(files["story"], []byte(`"110 mm[Hg]"`), []byte(`110`), 1)
	bad := 0
	for line := range bytes.Lines(vitals) {
		if validate(t, s, line) != nil {
			bad++
		}
	}
	if bad != 1 {
		t.Errorf("a number without a unit: %d lines do not fit, want 1", bad)
	}
}
