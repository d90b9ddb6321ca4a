package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/invopop/jsonschema"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/practice"
	"plumbstride/internal/recheck"
)

// schemaPath is where the schema of `check --json` is published.
var schemaPath = filepath.Join("..", "..", "docs", "check.schema.json")

// compareSchemaPath is where that of `compare --json` is.
var compareSchemaPath = filepath.Join("..", "..", "docs", "compare.schema.json")

// practiceSchemaPath is where that of `practice --json` is.
var practiceSchemaPath = filepath.Join("..", "..", "docs", "practice.schema.json")

// TestSchema: the published schemas are those that the types and their
// comments give; -update writes them anew.
func TestSchema(t *testing.T) {
	for path, want := range map[string][]byte{
		schemaPath:         schema(t, card.Card{}, "The object that plumbstride check --json prints"),
		compareSchemaPath:  schema(t, recheck.Comparison{}, "The object that plumbstride compare --json prints"),
		practiceSchemaPath: schema(t, practiced{}, "The object that plumbstride practice --json prints"),
	} {
		if *update {
			if err := os.WriteFile(path, want, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), string(got)); diff != "" {
			t.Errorf("%s is out of date (-types +file; -update writes it anew):\n%s", path, diff)
		}
	}
}

func schema(t *testing.T, of any, title string) []byte {
	t.Helper()
	r := &jsonschema.Reflector{Mapper: special}
	// The comments are found relative to the module's root.
	t.Chdir(filepath.Join("..", ".."))
	for _, dir := range []string{"./internal/card", "./internal/form", "./internal/recheck", "./internal/practice", "./internal/cli"} {
		if err := r.AddGoComments("plumbstride", dir); err != nil {
			t.Fatal(err)
		}
	}
	s := r.Reflect(of)
	s.ID = ""
	s.Title = title
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(s); err != nil {
		t.Fatal(err)
	}
	t.Chdir(filepath.Join("internal", "cli"))
	return b.Bytes()
}

// special gives the schemas of types that write themselves.
func special(t reflect.Type) *jsonschema.Schema {
	switch t {
	case reflect.TypeFor[card.Number]():
		return &jsonschema.Schema{OneOf: []*jsonschema.Schema{{Type: "number"}, {Type: "null"}}}
	case reflect.TypeFor[practice.Verdict]():
		return &jsonschema.Schema{Type: "string", Enum: []any{string(practice.Rose), string(practice.Fell), string(practice.NoChange), string(practice.TooFew)}}
	case reflect.TypeFor[form.Side]():
		return &jsonschema.Schema{Type: "string", Enum: []any{"left", "right", "both"}}
	default:
		return nil
	}
}

// valid checks a JSON value against the parts of JSON Schema that ours uses:
// $ref into $defs, type, enum, required, properties, additionalProperties,
// items, oneOf. It gives the places that break it.
func valid(root map[string]any, s, v any, at string) []string {
	if s == true {
		return nil
	}
	schema, ok := s.(map[string]any)
	if !ok {
		return []string{at + ": no value is allowed"}
	}
	if ref, ok := schema["$ref"].(string); ok {
		return valid(root, root["$defs"].(map[string]any)[filepath.Base(ref)], v, at)
	}
	if options, ok := schema["oneOf"].([]any); ok {
		fits := 0
		for _, o := range options {
			if len(valid(root, o, v, at)) == 0 {
				fits++
			}
		}
		if fits != 1 {
			return []string{at + ": fits none of its kinds"}
		}
		return nil
	}
	if options, ok := schema["enum"].([]any); ok && !contains(options, v) {
		return []string{at + ": is not one of the allowed words"}
	}
	return validKind(root, schema, v, at)
}

func contains(options []any, v any) bool {
	for _, o := range options {
		if reflect.DeepEqual(o, v) {
			return true
		}
	}
	return false
}

func validKind(root, schema map[string]any, v any, at string) (faults []string) {
	switch schema["type"] {
	case "object":
		return validObject(root, schema, v, at)
	case "array":
		list, ok := v.([]any)
		if !ok {
			return []string{at + ": is not an array"}
		}
		for i, e := range list {
			faults = append(faults, valid(root, schema["items"], e, at+"["+string(rune('0'+i%10))+"]")...)
		}
		return faults
	case "string":
		_, ok := v.(string)
		return unless(ok, at+": is not a string")
	case "number":
		_, ok := v.(float64)
		return unless(ok, at+": is not a number")
	case "integer":
		n, ok := v.(float64)
		return unless(ok && n == float64(int64(n)), at+": is not an integer")
	case "boolean":
		_, ok := v.(bool)
		return unless(ok, at+": is not a boolean")
	case "null":
		return unless(v == nil, at+": is not null")
	default:
		return []string{at + ": the schema has a kind that isn't known here"}
	}
}

func unless(ok bool, fault string) []string {
	if ok {
		return nil
	}
	return []string{fault}
}

func validObject(root, schema map[string]any, v any, at string) (faults []string) {
	object, ok := v.(map[string]any)
	if !ok {
		return []string{at + ": is not an object"}
	}
	if required, ok := schema["required"].([]any); ok {
		for _, name := range required {
			if _, ok := object[name.(string)]; !ok {
				faults = append(faults, at+": lacks "+name.(string))
			}
		}
	}
	properties, _ := schema["properties"].(map[string]any)
	for name, value := range object {
		s, ok := properties[name]
		if !ok {
			s = schema["additionalProperties"]
		}
		faults = append(faults, valid(root, s, value, at+"."+name)...)
	}
	return faults
}

// faultsOf gives the places where JSON breaks the published schema of a check.
func faultsOf(object []byte) ([]string, error) { return faultsIn(schemaPath, object) }

// faultsIn gives the places where JSON breaks a schema of a file.
func faultsIn(path string, object []byte) ([]string, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var root map[string]any
	if err := json.Unmarshal(text, &root); err != nil {
		return nil, err
	}
	var v any
	if err := json.Unmarshal(object, &v); err != nil {
		return nil, err
	}
	return valid(root, root, v, "$"), nil
}

// TestCardsFollowTheSchema: what is written follows what is published, even
// for a card with nothing on it; and a broken object is found out.
func TestCardsFollowTheSchema(t *testing.T) {
	for name, c := range map[string]card.Card{"full": inventedCard(), "empty": {}} {
		object, err := cardJSON(c)
		if err != nil {
			t.Fatal(err)
		}
		faults, err := faultsOf(object)
		if err != nil {
			t.Fatal(err)
		}
		if name == "full" && len(faults) > 0 {
			t.Errorf("%s: %v", name, faults)
		}
		if name == "empty" {
			for _, f := range faults {
				t.Errorf("%s: %s", name, f)
			}
		}
	}
	for _, broken := range []string{`{}`, `[]`, `{"program":1}`, `null`} {
		if faults, err := faultsOf([]byte(broken)); err != nil || len(faults) == 0 {
			t.Errorf("%s was taken for a card (%v)", broken, err)
		}
	}
}

// TestPracticeSchemaFindsFaults: what lacks its parts does not pass for what
// practice --json prints.
func TestPracticeSchemaFindsFaults(t *testing.T) {
	for _, object := range []string{`{}`, `{"program": "x", "files": [], "report": {}}`, `{"program": "x", "files": [{"file": "a", "state": 1, "reason": ""}], "report": null}`} {
		faults, err := faultsIn(practiceSchemaPath, []byte(object))
		if err != nil {
			t.Fatal(err)
		}
		if len(faults) == 0 {
			t.Errorf("%s passes", object)
		}
	}
}
