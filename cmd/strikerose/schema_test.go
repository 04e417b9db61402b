package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
)

// printed are the types that the commands print with --json, more than one where a
// flag or an argument decides.
var printed = map[string][]string{
	"adapt":         {"adaptation"},
	"apply":         {"[]appliedRow"},
	"check":         {"[]corpus.Problem"},
	"compare":       {"report.document", "[]eval.Carried"},
	"demo":          {"demoSummary"},
	"detectors":     {"[]described"},
	"export":        {"exported"},
	"features":      {"[]extracted"},
	"find":          {"[]found"},
	"import":        {"[]imported"},
	"label-agree":   {"agreement"},
	"label-doubt":   {"doubted"},
	"label-list":    {"[]listed"},
	"label-plan":    {"planned"},
	"label-read":    {"[]taken"},
	"label-truth":   {"placed"},
	"label-video":   {"watched"},
	"plan":          {"planMade"},
	"rig-calibrate": {"calibrated"},
	"rig-show":      {"advice.Sheet", "advice.Change"},
	"rig-tune":      {"tuned"},
	"session-list":  {"[]dataset.Session"},
	"session-show":  {"dataset.Session"},
	"simulate":      {"simulated"},
	"train":         {"trained"},
	"tune":          {"tune.Report"},
	"version":       {"built"},
}

// TestSchemas holds the schemas that are built in to the Go source: UPDATE_GOLDEN=1
// writes them anew.
func TestSchemas(t *testing.T) {
	faults := map[string]bool{} // many commands share a type
	for _, command := range slices.Sorted(maps.Keys(printed)) {
		want, _, some, err := makeSchema(command, printed[command]...)
		if err != nil {
			t.Fatalf("%s: %v", command, err)
		}
		for _, fault := range some {
			if !faults[fault] {
				t.Error(fault)
			}
			faults[fault] = true
		}
		if datasettest.Updating() {
			if err := os.WriteFile(schemaFile(command), want, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if kept, err := os.ReadFile(schemaFile(command)); err != nil || !bytes.Equal(kept, want) {
			t.Errorf("%s is not what the source says (UPDATE_GOLDEN=1 writes it anew)", schemaFile(command))
		}
	}
}

// TestSchemasAreSchemas has another program hold the schemas to the metaschema of
// their draft, and makes sure that they refer to what they define and to nothing else.
func TestSchemasAreSchemas(t *testing.T) {
	refers := regexp.MustCompile(`"\$ref": "#/\$defs/([^"]+)"`)
	for _, command := range slices.Sorted(maps.Keys(printed)) {
		text, s, _, err := makeSchema(command, printed[command]...)
		if err != nil {
			t.Fatal(err)
		}
		unused := maps.Clone(s.Defs)
		for _, ref := range refers.FindAllSubmatch(text, -1) {
			if s.Defs[string(ref[1])] == nil {
				t.Errorf("%s refers to %s, which it does not define", command, ref[1])
			}
			delete(unused, string(ref[1]))
		}
		if len(unused) > 0 {
			t.Errorf("%s defines what it does not refer to: %v", command, slices.Sorted(maps.Keys(unused)))
		}
	}
	python := datasettest.RequireTool(t, "python3", "apt-get install python3-jsonschema")
	if exec.Command(python, "-c", "import jsonschema").Run() != nil {
		datasettest.Missing(t, "python3-jsonschema", "apt-get install python3-jsonschema")
	}
	const program = `
import glob, json, jsonschema
for path in sorted(glob.glob("schema/*.json")):
    jsonschema.Draft202012Validator.check_schema(json.load(open(path)))
`
	if said, err := exec.Command(python, "-c", program).CombinedOutput(); err != nil {
		t.Errorf("%v: %s", err, said)
	}
}

// keepJSON keeps what a command of a script test printed as JSON.
func keepJSON(dir string, args []string, printed []byte) error {
	var out, errs bytes.Buffer
	cmd, _, err := newRoot(testWorld(&out, &errs)).Find(args)
	if err != nil || cmd.Name() == "help" {
		return nil // refused, or a schema itself
	}
	if len(printed) == 0 {
		return nil // refused before anything could be said
	}
	f, err := os.CreateTemp(dir, "json "+schemaName(cmd.CommandPath())+" *")
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = f.Write(printed)
	return err
}

// asTheSchemasSay holds all that the script tests printed as JSON to the schemas.
func asTheSchemasSay(t *testing.T, dir string) {
	files, err := filepath.Glob(filepath.Join(dir, "json *"))
	if err != nil {
		t.Fatal(err)
	}
	values := map[string][]any{}
	for _, path := range files {
		command := strings.Fields(filepath.Base(path))[1]
		some, err := readValues(path)
		if err != nil {
			t.Errorf("%s --json: %v", command, err)
		}
		values[command] = append(values[command], some...)
	}
	some := strings.Contains(flag.Lookup("test.run").Value.String(), "/") // scripts alone
	for _, command := range slices.Sorted(maps.Keys(printed)) {
		if values[command] == nil && !some && command != "demo" { // TestDemoPrints has it
			t.Errorf("no script runs %s --json, of which there is a schema", command)
		}
	}
	for _, command := range slices.Sorted(maps.Keys(values)) {
		if printed[command] == nil {
			t.Errorf("%s prints JSON of which there is no schema: name its type in printed", command)
			continue
		}
		_, s, _, err := makeSchema(command, printed[command]...)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range values[command] {
			if faults := (holder{s.Defs}).faults(s, "", v); len(faults) > 0 {
				t.Errorf("%s --json is not as its schema says: %s", command, strings.Join(faults[:min(5, len(faults))], "; "))
			}
		}
	}
}

// TestDemoPrints holds what demo prints to its schema, without the minute that the
// demo takes.
func TestDemoPrints(t *testing.T) {
	_, done := demoSteps("evening")
	path := filepath.Join(t.TempDir(), "demo.json")
	var b bytes.Buffer
	if err := printJSON(&b, done); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	values, err := readValues(path)
	if err != nil {
		t.Fatal(err)
	}
	_, s, _, err := makeSchema("demo", printed["demo"]...)
	if err != nil {
		t.Fatal(err)
	}
	if faults := (holder{s.Defs}).faults(s, "", values[0]); len(faults) > 0 {
		t.Error(strings.Join(faults, "; "))
	}
}

// readValues reads the values of a file one after the other, numbers as they stand.
func readValues(path string) ([]any, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	d := json.NewDecoder(f)
	d.UseNumber()
	var all []any
	for d.More() {
		var v any
		if err := d.Decode(&v); err != nil {
			return all, err
		}
		all = append(all, v)
	}
	return all, nil
}

// describedIn is a package of the tests' own, some of whose types are badly described.
const describedIn = "cmd/strikerose/testdata/schema"

func makeDescribed(t *testing.T, name string) *schemaMaker {
	t.Helper()
	m := newSchemaMaker()
	p, err := m.read(describedIn)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.named(p, name); err != nil {
		t.Fatal(err)
	}
	return m
}

func TestSchemaSaysWhatTheSourceSays(t *testing.T) {
	m := makeDescribed(t, "Good")
	if len(m.faults) > 0 {
		t.Error(m.faults)
	}
	text, err := json.MarshalIndent(m.defs, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	datasettest.Golden(t, "schema/described.json", append(text, '\n'))
}

func TestSchemaMissesDescriptions(t *testing.T) {
	m := makeDescribed(t, "Bad")
	slices.Sort(m.faults)
	for i, want := range []string{
		".Bad.Bare: has no comment, which would be its description",
		".Bad.Left: may be left out, and its comment does not say when it is absent: Where it lies",
		".Bad.Null: may be null, and its comment does not say when: How large",
		".Bad.Number: is no string, and its comment gives words: One of a or b",
		".Bad.Text: is no number, and its comment gives bounds: At least 0",
		".Bad.Twice: has two comments, above and beside it: keep one",
		".Bad.Untagged: has no json tag",
		".Bad.Way: " + describedIn + " has neither a string constant Nowhere nor a function of that name that lists some",
		".Bad: has no comment",
	} {
		if i >= len(m.faults) || m.faults[i] != describedIn+want {
			t.Fatalf("faults are\n\t%s\nwant among them, at %d, %s", strings.Join(m.faults, "\n\t"), i, describedIn+want)
		}
	}
}

func TestSchemaRefuses(t *testing.T) {
	m := makeDescribed(t, "Good")
	good := map[string]any{}
	if err := json.Unmarshal([]byte(`{"name": "", "size_m": 2, "turn_deg": 180, "sort": "soft", "way": "side ways", "unit": "m per s", "three": [0, 1, 2.5],
		"counts": {"any": 1}, "next": null, "known": {"value": null}, "seed": 18446744073709551615, "notes": []}`), &good); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, value, want string }{
		{"share_of", `0.5`, ""},
		{"turn_deg", `null`, ""},
		{"notes", `["a"]`, ""},
		{"share_of", `null`, ".share_of is of type null, not number"},
		{"share_of", `1.01`, ".share_of is 1.01, outside its bounds"},
		{"turn_deg", `-180`, ".turn_deg is -180, outside its bounds"},
		{"turn_deg", `180.5`, ".turn_deg is 180.5, outside its bounds"},
		{"size_m", `0`, ".size_m is 0, outside its bounds"},
		{"sort", `"loud"`, `.sort is "loud", not one of hard, soft`},
		{"way", `"in"`, `.way is "in", not one of up, down, side ways`},
		{"unit", `"kg"`, `.unit is "kg", not one of up, s, m per s`},
		{"three", `[1, 2]`, ".three has 2 items, not 3"},
		{"three", `[1, 2, -1]`, ".three[2] is -1, outside its bounds"},
		{"counts", `{"x": 1.5}`, ".counts.x is of type number, not integer"},
		{"next", `1`, ".next is of type integer, not object"},
		{"known", `null`, ".known is of type null, not object"},
		{"known", `{}`, ".known.value is missing"},
		{"seed", `-1`, ".seed is -1, outside its bounds"},
		{"notes", `null`, ".notes is of type null, not array"},
		{"notes", ``, ".notes is missing"},
		{"other", `1`, ".other is not in the schema"},
	} {
		value := maps.Clone(good)
		delete(value, c.name)
		if c.value != "" {
			value[c.name] = json.RawMessage(c.value)
		}
		text, err := json.Marshal(value)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "value.json")
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		read, err := readValues(path)
		if err != nil {
			t.Fatal(err)
		}
		got := holder{m.defs}.faults(m.defs["described.Good"], "", read[0])
		if strings.Join(got, "; ") != c.want {
			t.Errorf("%s %s: %q, want %q", c.name, c.value, got, c.want)
		}
	}
}
