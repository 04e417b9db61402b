package main_test

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/datasettest"
)

const module = "strikerose/"

// goPackage is what `go list -json` says of one package.
type goPackage struct {
	ImportPath, Name, Doc              string
	Imports, TestImports, XTestImports []string
}

// mayImport is the direction of imports between the top folders. What sees
// labels stays apart from what sees signals: they meet in eval alone.
var mayImport = map[string][]string{
	"cmd":      {"cmd", "eval", "models", "features", "label", "dataset"},
	"eval":     {"eval", "models", "features", "label", "dataset"},
	"models":   {"models", "features", "dataset"},
	"features": {"features", "dataset"},
	"label":    {"label", "dataset"},
	"dataset":  {"dataset"},
}

// mayImportOnly narrows this for single packages: all that they may import of
// the project.
var mayImportOnly = map[string][]string{
	"dataset/bearing":  {},
	"dataset/rig":      {"dataset/shell", "dataset/bearing"},
	"dataset":          {"dataset/rig", "dataset/bearing"},
	"dataset/intake":   {"dataset", "dataset/rig", "dataset/bearing"},
	"dataset/corpus":   {"dataset", "dataset/folder", "dataset/pack", "dataset/shell", "dataset/rig", "dataset/bearing"},
	"dataset/asjson":   {},
	"dataset/folder":   {},
	"dataset/pack":     {},
	"dataset/shell":    {},
	"dataset/simulate": {"dataset", "dataset/rig", "dataset/bearing"},
	"features/signal":  {},
	"models/trees":     {"dataset/bearing"},
}

// outerRing are packages that touch files, pages or exports: other packages
// do without them, the command wires them up.
var outerRing = []string{"dataset/corpus", "dataset/intake", "eval/report", "label/page", "models/firmware"}

// soleImporter names the folder that a heavy or awkward library is kept in, with
// what lies below it.
var soleImporter = map[string]string{
	"github.com/parquet-go/parquet-go":         "dataset/corpus",
	"github.com/sjwhitworth/golearn":           "models/golearn",
	"gonum.org/v1/plot":                        "eval/report",
	"github.com/spf13/cobra":                   "cmd",
	"github.com/schollz/progressbar/v3":        "cmd/strikerose",
	"github.com/rogpeppe/go-internal":          "cmd/strikerose",
	"github.com/pelletier/go-toml/v2/unstable": "dataset/rig",
}

// commands are the programs: the tool, and what measures and tries it.
var commands = []string{"cmd/strikerose", "cmd/bench"}

// importFaults lists what breaks the rules in a set of packages.
func importFaults(packages []goPackage) []string {
	var faults []string
	add := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	tops := map[string]bool{}
	for _, p := range packages {
		from := strings.TrimPrefix(p.ImportPath, module)
		top, _, _ := strings.Cut(from, "/")
		if _, ok := mayImport[top]; !ok {
			add("%s: a package outside the agreed folders", from)
			continue
		}
		tops[top] = true
		if p.Name == "main" && !slices.Contains(commands, from) {
			add("%s: a command beside %s", from, strings.Join(commands, " and "))
		}
		if want := "Package " + p.Name + " "; p.Name != "main" && !strings.HasPrefix(p.Doc, want) {
			add("%s: no package comment that starts %q", from, want)
		}
		if p.Name == "main" && p.Doc == "" {
			add("%s: no package comment", from)
		}
		for _, path := range p.Imports {
			if fault := importFault(from, path, false); fault != "" {
				add("%s", fault)
			}
		}
		for _, path := range slices.Concat(p.TestImports, p.XTestImports) {
			if fault := importFault(from, path, true); fault != "" {
				add("test of %s", fault)
			}
		}
	}
	for top := range mayImport {
		if !tops[top] {
			add("%s: no package in this agreed folder", top)
		}
	}
	slices.Sort(faults)
	return slices.Compact(faults)
}

// importFault judges one import by one package or by its tests, which may
// also use the shared test helpers, the outer ring and any library.
func importFault(from, path string, byTest bool) string {
	to, ours := strings.CutPrefix(path, module)
	if !ours {
		for library, owner := range soleImporter {
			if !byTest && !within(from, owner) && within(path, library) {
				return fmt.Sprintf("%s imports %s, which belongs in %s", from, path, owner)
			}
		}
		if !byTest && path == "testing" && !isTestHelper(from) {
			return fmt.Sprintf("%s imports testing", from)
		}
		return ""
	}
	top, _, _ := strings.Cut(from, "/")
	toTop, _, _ := strings.Cut(to, "/")
	switch {
	case to == from: // an external test imports what it tests
		return ""
	case toTop == "testdata": // recordings, embedded
		if byTest || top == "cmd" {
			return ""
		}
		return fmt.Sprintf("%s imports %s, which only tests and the command may", from, to)
	case !slices.Contains(mayImport[top], toTop):
		return fmt.Sprintf("%s imports %s: %s may not import %s", from, to, top, toTop)
	case byTest:
		return ""
	case isTestHelper(to) && !isTestHelper(from):
		return fmt.Sprintf("%s imports the test helper %s", from, to)
	case slices.Contains(outerRing, to) && top != "cmd" && !isTestHelper(from):
		return fmt.Sprintf("%s imports %s, which only the command may", from, to)
	case top == "cmd" && toTop == "cmd" && !within(to, from):
		return fmt.Sprintf("%s imports the command", from)
	}
	if only, ok := mayImportOnly[from]; ok && !slices.Contains(only, to) {
		return fmt.Sprintf("%s imports %s: it may import only %v of the project", from, to, only)
	}
	return ""
}

func within(path, folder string) bool { return path == folder || strings.HasPrefix(path, folder+"/") }

// isTestHelper tells packages made for tests by their name, as datasettest.
func isTestHelper(path string) bool { return strings.HasSuffix(path, "test") }

func TestImportDirection(t *testing.T) {
	golang := datasettest.RequireTool(t, "go", "install Go")
	cmd := exec.CommandContext(t.Context(), golang, "list", "-json=ImportPath,Name,Doc,Imports,TestImports,XTestImports", "./...")
	cmd.Dir = datasettest.Root(t)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v\n%s", err, stderr.String())
	}
	var packages []goPackage
	for d := json.NewDecoder(strings.NewReader(string(out))); d.More(); {
		var p goPackage
		if err := d.Decode(&p); err != nil {
			t.Fatal(err)
		}
		packages = append(packages, p)
	}
	if len(packages) < 10 {
		t.Fatalf("go list finds only %d packages", len(packages))
	}
	for _, fault := range importFaults(packages) {
		t.Error(fault)
	}
}

// A well-behaved project passes, and each way of breaking the rules is found.
func TestImportFaults(t *testing.T) {
	good := func() map[string]*goPackage {
		all := map[string]*goPackage{}
		for path, imports := range map[string][]string{
			"cmd/strikerose":      {"eval", "eval/report", "label", "dataset/corpus", "dataset/intake"},
			"eval":                {"models", "features", "label", "dataset"},
			"eval/report":         {"eval"},
			"models":              {"features", "dataset", "dataset/rig"},
			"models/modelstest":   {"models"},
			"features":            {"features/signal", "dataset"},
			"features/signal":     nil,
			"label":               {"dataset"},
			"dataset":             {"dataset/rig"},
			"dataset/rig":         {"dataset/bearing"},
			"dataset/bearing":     nil,
			"dataset/corpus":      {"dataset"},
			"dataset/intake":      {"dataset"},
			"dataset/datasettest": {"dataset"},
		} {
			name := path[strings.LastIndex(path, "/")+1:]
			p := &goPackage{ImportPath: module + path, Name: name, Doc: "Package " + name + " is here."}
			if path == "cmd/strikerose" {
				p.Name, p.Doc = "main", "Command strikerose is here."
			}
			for _, to := range imports {
				p.Imports = append(p.Imports, module+to)
			}
			all[path] = p
		}
		return all
	}
	for _, c := range []struct {
		name string
		do   func(all map[string]*goPackage)
		want []string
	}{
		{"nothing", func(map[string]*goPackage) {}, nil},
		{"features see labels", imports("features", "strikerose/label"),
			[]string{"features imports label: features may not import label"}},
		{"a test of models sees labels", func(all map[string]*goPackage) {
			all["models"].XTestImports = []string{"strikerose/label/plan"}
		}, []string{"test of models imports label/plan: models may not import label"}},
		{"upward", imports("dataset", "strikerose/features/signal"),
			[]string{"dataset imports features/signal: dataset may not import features"}},
		{"label sees features", imports("label", "strikerose/features"),
			[]string{"label imports features: label may not import features"}},
		{"dataset rests on what rests on it", imports("dataset", "strikerose/dataset/intake"),
			[]string{"dataset imports dataset/intake, which only the command may"}},
		{"bearing is a leaf", imports("dataset/bearing", "strikerose/dataset/rig"),
			[]string{"dataset/bearing imports dataset/rig: it may import only [] of the project"}},
		{"rig is a leaf", imports("dataset/rig", "strikerose/dataset"),
			[]string{"dataset/rig imports dataset: it may import only [dataset/shell dataset/bearing] of the project"}},
		{"eval reads files", imports("eval", "strikerose/dataset/corpus"),
			[]string{"eval imports dataset/corpus, which only the command may"}},
		{"a test may read files", func(all map[string]*goPackage) {
			all["eval"].TestImports = []string{"strikerose/dataset/corpus", "github.com/spf13/cobra", "testing"}
		}, nil},
		{"parquet elsewhere", imports("dataset/intake", "github.com/parquet-go/parquet-go"),
			[]string{"dataset/intake imports github.com/parquet-go/parquet-go, which belongs in dataset/corpus"}},
		{"golearn elsewhere", imports("models", "github.com/sjwhitworth/golearn/trees"),
			[]string{"models imports github.com/sjwhitworth/golearn/trees, which belongs in models/golearn"}},
		{"plot elsewhere", imports("eval", "gonum.org/v1/plot/vg/vgsvg"),
			[]string{"eval imports gonum.org/v1/plot/vg/vgsvg, which belongs in eval/report"}},
		{"plot below its owner", func(all map[string]*goPackage) {
			all["eval/report/traces"] = &goPackage{ImportPath: module + "eval/report/traces", Name: "traces", Doc: "Package traces is here.",
				Imports: []string{"gonum.org/v1/plot/vg"}}
		}, nil},
		{"cobra elsewhere", imports("eval", "github.com/spf13/cobra"),
			[]string{"eval imports github.com/spf13/cobra, which belongs in cmd"}},
		{"recordings in earnest", imports("eval", "strikerose/testdata/recordings"),
			[]string{"eval imports testdata/recordings, which only tests and the command may"}},
		{"other libraries", imports("eval", "gonum.org/v1/gonum/stat"), nil},
		{"a helper in earnest", imports("models", "strikerose/dataset/datasettest"),
			[]string{"models imports the test helper dataset/datasettest"}},
		{"testing in earnest", imports("models", "testing"), []string{"models imports testing"}},
		{"testing in a helper", imports("models/modelstest", "testing", "strikerose/dataset/datasettest"), nil},
		{"no comment", func(all map[string]*goPackage) { all["label"].Doc = "" },
			[]string{`label: no package comment that starts "Package label "`}},
		{"a folder of its own", func(all map[string]*goPackage) {
			all["util"] = &goPackage{ImportPath: module + "util", Name: "util", Doc: "Package util is here."}
		}, []string{"util: a package outside the agreed folders"}},
		{"the bench and a part of it", func(all map[string]*goPackage) {
			all["cmd/bench/kill"] = &goPackage{ImportPath: module + "cmd/bench/kill", Name: "kill", Doc: "Package kill is here."}
			all["cmd/bench"] = &goPackage{ImportPath: module + "cmd/bench", Name: "main", Doc: "Command bench is here.",
				Imports: []string{"strikerose/cmd/bench/kill", "github.com/spf13/cobra", "strikerose/models/trees"}}
		}, nil},
		{"one command in another", func(all map[string]*goPackage) {
			all["cmd/bench"] = &goPackage{ImportPath: module + "cmd/bench", Name: "main", Doc: "Command bench is here.",
				Imports: []string{"strikerose/cmd/strikerose"}}
		}, []string{"cmd/bench imports the command"}},
		{"a third command", func(all map[string]*goPackage) {
			all["cmd/other"] = &goPackage{ImportPath: module + "cmd/other", Name: "main", Doc: "Command other."}
		}, []string{"cmd/other: a command beside cmd/strikerose and cmd/bench"}},
		{"a folder missing", func(all map[string]*goPackage) { delete(all, "label") },
			[]string{"label: no package in this agreed folder"}},
	} {
		all := good()
		c.do(all)
		var packages []goPackage
		for _, p := range all {
			packages = append(packages, *p)
		}
		if diff := cmp.Diff(c.want, importFaults(packages)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// imports makes a package import more.
func imports(from string, paths ...string) func(map[string]*goPackage) {
	return func(all map[string]*goPackage) { all[from].Imports = append(all[from].Imports, paths...) }
}
