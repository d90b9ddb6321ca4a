package cli

import (
	"bytes"
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/invopop/jsonschema"

	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/settings"
	"plumbstride/internal/stick"
)

// TestPlanSchemas: docs/plan.schema.json and docs/drills.schema.json are what
// the types and their comments give; -update writes them anew.
func TestPlanSchemas(t *testing.T) {
	for name, s := range planSchemas(t) {
		path := filepath.Join("..", "..", "docs", name)
		if *update {
			if err := os.WriteFile(path, s, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(s), string(got)); diff != "" {
			t.Errorf("docs/%s is out of date (-types +file; -update writes it anew):\n%s", name, diff)
		}
	}
}

func planSchemas(t *testing.T) map[string][]byte {
	t.Helper()
	r := &jsonschema.Reflector{Mapper: planSpecial}
	t.Chdir(filepath.Join("..", ".."))
	for _, dir := range []string{"./internal/plan", "./internal/stick", "./internal/settings"} {
		if err := r.AddGoComments("plumbstride", dir); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(filepath.Join("internal", "cli"))
	out := map[string][]byte{}
	for name, of := range map[string]struct {
		title string
		value any
	}{
		"plan.schema.json":     {"The object that plumbstride plan --json prints", plan.Plan{}},
		"drills.schema.json":   {"A file of drills, for plumbstride drills --drills and plan --drills", plan.Schema()},
		"settings.schema.json": {"A shop's settings, for --settings or PLUMBSTRIDE_SETTINGS", settings.Settings{}},
	} {
		s := r.Reflect(of.value)
		s.ID, s.Title = "", of.title
		text, err := indented(s)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = text
	}
	return out
}

// planSpecial gives the schemas of types that write themselves, and of words.
func planSpecial(t reflect.Type) *jsonschema.Schema {
	numbers := func(least, most uint64) *jsonschema.Schema {
		return &jsonschema.Schema{Type: "array", Items: &jsonschema.Schema{Type: "number"}, MinItems: &least, MaxItems: &most}
	}
	words := func(list ...any) *jsonschema.Schema { return &jsonschema.Schema{Type: "string", Enum: list} }
	switch t {
	case reflect.TypeFor[stick.Leg]():
		return numbers(3, 4)
	case reflect.TypeFor[stick.Arm]():
		return numbers(2, 2)
	case reflect.TypeFor[plan.Date]():
		return &jsonschema.Schema{Type: "string", Format: "date"}
	case reflect.TypeFor[stick.Prop]():
		var list []any
		for _, p := range stick.Props() {
			list = append(list, string(p))
		}
		return words(list...)
	case reflect.TypeFor[plan.Reason]():
		var list []any
		for _, q := range plan.Questions() {
			list = append(list, string(q.Reason))
		}
		return words(list...)
	default:
		return special(t)
	}
}

// faultsBy gives the places where JSON breaks a schema.
func faultsBy(t *testing.T, schema, object []byte) []string {
	t.Helper()
	var root map[string]any
	if err := json.Unmarshal(schema, &root); err != nil {
		t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal(object, &v); err != nil {
		t.Fatal(err)
	}
	return valid(root, root, v, "$")
}

// TestFollowTheirSchemas: the program's own drills and what plan --json
// prints follow what is published, and a broken object is found out.
func TestFollowTheirSchemas(t *testing.T) {
	schemas := planSchemas(t)
	names, err := fs.Glob(drills.Files(), "*.json")
	if err != nil || len(names) != len(plan.Areas()) {
		t.Fatalf("%v, %v", names, err)
	}
	for _, name := range names {
		text, err := fs.ReadFile(drills.Files(), name)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range faultsBy(t, schemas["drills.schema.json"], text) {
			t.Errorf("%s: %s", name, f)
		}
		broken := bytes.Replace(text, []byte(`"purpose"`), []byte(`"porpoise"`), 1)
		if len(faultsBy(t, schemas["drills.schema.json"], broken)) == 0 {
			t.Errorf("%s: a slip of the pen passes", name)
		}
	}
	withNulls := slowPlan(t)
	withNulls.Ask.Cadence = nil
	for _, p := range []plan.Plan{slowPlan(t), withNulls} {
		object, err := indented(p)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range faultsBy(t, schemas["plan.schema.json"], object) {
			t.Error(f)
		}
	}
	if len(faultsBy(t, schemas["plan.schema.json"], []byte(`{}`))) == 0 {
		t.Error("an empty object passes for a plan")
	}
}
