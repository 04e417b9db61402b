package emulate_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"strikerose/dataset/datasettest"
	"strikerose/features/chain/fixed"
	"strikerose/models/firmware/emulate"
	"strikerose/models/firmware/translate"
	"strikerose/models/firmware/translate/translatetest"
)

const (
	rounds = 150
	seed   = 362436069
)

// translated writes the test programs in C.
func translated(t *testing.T) *translate.Result {
	t.Helper()
	p := translate.Program{
		Prefix: "tt",
		Public: []translate.Name{{Go: "translatetest.Random.Fill", C: "random_fill"}, {Go: "translatetest.Mix", C: "mix_words"}},
	}
	for _, pkg := range []struct {
		path, part string
		source     fs.FS
	}{
		{"strikerose/models/firmware/translate/translatetest", "", translatetest.Source()},
		{"strikerose/features/chain/fixed", "fixed", fixed.Source()},
	} {
		names, err := fs.Glob(pkg.source, "*.go")
		if err != nil {
			t.Fatal(err)
		}
		list := translate.Package{Path: pkg.path, Part: pkg.part}
		for _, n := range names {
			text, err := fs.ReadFile(pkg.source, n)
			if err != nil {
				t.Fatal(err)
			}
			list.Files = append(list.Files, translate.File{Name: n, Text: string(text)})
		}
		p.Packages = append(p.Packages, list)
	}
	for _, prog := range programs() {
		p.Public = append(p.Public, translate.Name{Go: "translatetest." + prog.Name, C: "run_" + strings.ToLower(prog.Name)})
	}
	out, err := translate.Translate(p)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// programs are those that need no Go around them.
func programs() []translatetest.Program {
	var out []translatetest.Program
	for _, p := range translatetest.Programs() {
		if p.Name != "State" {
			out = append(out, p)
		}
	}
	return out
}

// mainText runs each program and prints one check number of all its outputs.
func mainText() string {
	var b strings.Builder
	b.WriteString(`#include "board.h"
#include "programs.h"

static void text(const char *at)
{
	while (*at != 0) {
		board_put(*at++);
	}
}

static void run(const char *name, void (*program)(const tt_words_t *in, tt_words_t *out))
{
	tt_random_t random = {SEEDu};
	uint32_t sum = 2166136261u;
	for (int round = 0; round < ROUNDS; round++) {
		tt_words_t in, out = {{0}};
		random_fill(&random, &in);
		program(&in, &out);
		sum = mix_words(sum, &out);
	}
	text(name);
	board_put(' ');
	for (int digit = 28; digit >= 0; digit -= 4) {
		board_put("0123456789abcdef"[sum >> digit & 15u]);
	}
	board_put('\n');
}

int main(void)
{
`)
	for _, p := range programs() {
		fmt.Fprintf(&b, "\trun(\"%s\", run_%s);\n", p.Name, strings.ToLower(p.Name))
	}
	b.WriteString("\treturn 0;\n}\n")
	return strings.NewReplacer("SEED", fmt.Sprint(seed), "ROUNDS", fmt.Sprint(rounds)).Replace(b.String())
}

// inGo is what the C must print.
func inGo() string {
	var b strings.Builder
	for _, p := range programs() {
		random := translatetest.Random{State: seed}
		sum := uint32(2166136261)
		for range rounds {
			var in, out translatetest.Words
			random.Fill(&in)
			p.Run(&in, &out)
			sum = translatetest.Mix(sum, &out)
		}
		fmt.Fprintf(&b, "%s %08x\n", p.Name, sum)
	}
	return b.String()
}

// Integers of 16 bits, no division, no floating point: every target computes what
// Go does.
func TestProgramsOnTargets(t *testing.T) {
	r := translated(t)
	want := strings.Split(inGo(), "\n")
	for _, target := range emulate.Targets() {
		t.Run(target.Name, func(t *testing.T) {
			if err := target.Check(); errors.Is(err, emulate.ErrMissing) {
				datasettest.Missing(t, target.Compiler+"gcc, "+target.Emulator, target.Install)
			}
			if target.FlashMax < 64<<10 {
				t.Skipf("%d bytes of flash are too few for all programs", target.FlashMax)
			}
			t.Parallel()
			dir := t.TempDir()
			for name, text := range map[string]string{
				"programs.h": "#ifndef PROGRAMS_H\n#define PROGRAMS_H\n#include <stdint.h>\n" + r.Header + "#endif\n",
				"programs.c": "#include <string.h>\n#include <math.h>\n#include \"programs.h\"\n" + r.Code,
				"main.c":     mainText(),
			} {
				if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			p, err := target.Build(t.Context(), dir, dir, []string{"main.c", "programs.c"}, false)
			if err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute) // one that hangs
			defer cancel()
			out, err := p.Run(ctx, nil)
			if err != nil {
				t.Fatal(err)
			}
			got := strings.Split(string(out), "\n")
			for i, w := range want {
				if i >= len(got) || got[i] != w {
					t.Errorf("%q, want %q", got[min(i, len(got)-1)], w)
				}
			}
		})
	}
}

func TestFind(t *testing.T) {
	for _, target := range emulate.Targets() {
		if got, err := emulate.Find(target.Name); err != nil || got.Name != target.Name {
			t.Errorf("%s: %s, %v", target.Name, got.Name, err)
		}
	}
	if _, err := emulate.Find("cortex-m99"); err == nil || !strings.Contains(err.Error(), "cortex-m0") {
		t.Errorf("an unknown target: %v", err)
	}
}

// The stack is that of the deepest path of calls.
func TestDepth(t *testing.T) {
	c := emulate.Calls{
		Frame: map[string]int{"a": 10, "b": 20, "c": 5, "d": 100},
		Calls: map[string][]string{"a": {"b", "c", "memset"}, "b": {"c"}, "c": nil},
	}
	for f, want := range map[string]int{"a": 35, "b": 25, "c": 5, "d": 100, "memset": 0} {
		if got := c.Depth(f); got != want {
			t.Errorf("%s: %d, want %d", f, got, want)
		}
	}
}

// The compiler's own words come with its errors.
func TestBuildFails(t *testing.T) {
	target, err := emulate.Find("cortex-m0")
	if err != nil {
		t.Fatal(err)
	}
	if err := target.Check(); err != nil {
		datasettest.Missing(t, target.Compiler+"gcc", target.Install)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "main.c"), []byte("int main(void) { volatile int y = 1; unsigned char x = y; return x; }\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := target.Build(t.Context(), dir, dir, []string{"main.c"}, false); err == nil || !strings.Contains(err.Error(), "-Werror") {
		t.Errorf("a careless program compiles: %v", err)
	}
}
