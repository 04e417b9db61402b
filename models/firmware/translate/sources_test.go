package translate_test

import (
	"fmt"
	"io/fs"
	"strings"
	"testing"

	"strikerose/features/chain/fixed"
	"strikerose/models/firmware/translate"
	"strikerose/models/firmware/translate/translatetest"
)

const (
	fixedPath = "strikerose/features/chain/fixed"
	testPath  = "strikerose/models/firmware/translate/translatetest"
)

// filesOf reads a package's translated files.
func filesOf(t *testing.T, source fs.FS) []translate.File {
	t.Helper()
	names, err := fs.Glob(source, "*.go")
	if err != nil {
		t.Fatal(err)
	}
	var out []translate.File
	for _, n := range names {
		text, err := fs.ReadFile(source, n)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, translate.File{Name: n, Text: string(text)})
	}
	return out
}

// programs is the translation of the test programs.
func programs(t *testing.T) *translate.Result {
	t.Helper()
	p := translate.Program{
		Prefix: "tt",
		Packages: []translate.Package{
			{Path: testPath, Files: filesOf(t, translatetest.Source())},
			{Path: fixedPath, Part: "fixed", Files: filesOf(t, fixed.Source())},
		},
		Public: []translate.Name{
			{Go: "translatetest.Random.Fill", C: "random_fill"},
			{Go: "translatetest.Mix", C: "mix_words"},
			{Go: "translatetest.machine.Feed", C: "machine_feed"},
		},
		Fixed: map[string]int64{"translatetest.numbers.Kind": 1},
	}
	for _, prog := range translatetest.Programs() {
		if prog.Name != "State" { // of Go alone: it makes a machine
			p.Public = append(p.Public, translate.Name{Go: "translatetest." + prog.Name, C: cName(prog.Name)})
		}
	}
	out, err := translate.Translate(p)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func cName(program string) string { return "run_" + strings.ToLower(program) }

// header is the translation's header as a program includes it.
func header(r *translate.Result) string {
	return fmt.Sprintf("#ifndef PROGRAMS_H\n#define PROGRAMS_H\n#include <stdint.h>\n#define TT_RING %d\n#define TT_WEIGHTS %d\n%s#endif\n",
		translatetest.Ring, translatetest.Weights, r.Header)
}

func code(r *translate.Result) string {
	includes := "#include <string.h>\n"
	if r.Math {
		includes += "#include <math.h>\n"
	}
	return includes + "#include \"programs.h\"\n\n" + r.Code
}
