package translate_test

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/models/firmware/translate"
	"strikerose/models/firmware/translate/translatetest"
)

const (
	rounds = 3000
	seed   = 88172645463325252
)

// mainText is the program in C that runs what follow runs in Go.
func mainText() string {
	var b strings.Builder
	b.WriteString(`#include <stdio.h>
#include "programs.h"

static void run_state(const tt_words_t *in, tt_words_t *out)
{
	static const tt_numbers_t numbers = {.weights = {`)
	for i, w := range translatetest.MachineWeights() {
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprint(&b, w)
	}
	b.WriteString(`}};
	tt_machine_t machine = {0};
	machine.numbers = &numbers;
	machine_feed(&machine, in, out);
}

static const struct {
	const char *name;
	void (*run)(const tt_words_t *in, tt_words_t *out);
} programs[] = {
`)
	for _, p := range translatetest.Programs() {
		fmt.Fprintf(&b, "\t{\"%s\", %s},\n", p.Name, cName(p.Name))
	}
	fmt.Fprintf(&b, `};

int main(void)
{
	for (unsigned i = 0; i < sizeof programs / sizeof programs[0]; i++) {
		tt_random_t random = {%du};
		for (int round = 0; round < %d; round++) {
			tt_words_t in, out = {{0}};
			random_fill(&random, &in);
			programs[i].run(&in, &out);
			printf("%%s %%d %%08lx\n", programs[i].name, round, (unsigned long)mix_words(2166136261u, &out));
		}
	}
	return 0;
}
`, uint64(seed), rounds)
	return b.String()
}

// strict is what the C must compile under without a word.
var strict = []string{"-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Werror"}

// compile writes and compiles the program; the sanitizers end it where C leaves
// something undefined.
func compile(t *testing.T, r *translate.Result, flags ...string) string {
	t.Helper()
	gcc := datasettest.RequireTool(t, "gcc", "apt-get install gcc libc6-dev")
	dir := t.TempDir()
	for name, text := range map[string]string{"programs.h": header(r), "programs.c": code(r), "main.c": mainText()} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	args := append(append([]string{}, strict...), flags...)
	cmd := exec.Command(gcc, append(args, "-o", "run", "main.c", "programs.c", "-lm")...)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("gcc %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return filepath.Join(dir, "run")
}

// Each program gives the same in Go and in C, optimised and not, and C finds
// nothing undefined.
func TestSameResults(t *testing.T) {
	r := programs(t)
	for name, flags := range map[string][]string{
		"optimised": {"-O2"},
		"sanitized": {"-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all"},
	} {
		t.Run(name, func(t *testing.T) {
			run := compile(t, r, flags...)
			out, err := exec.Command(run).CombinedOutput()
			if err != nil {
				t.Fatalf("%v\n%s", err, out[max(0, len(out)-2000):])
			}
			follow(t, out)
		})
	}
}

// follow runs the programs in Go beside what C printed.
func follow(t *testing.T, printed []byte) {
	t.Helper()
	lines := bufio.NewScanner(bytes.NewReader(printed))
	for _, p := range translatetest.Programs() {
		random := translatetest.Random{State: seed}
		for round := range rounds {
			var in, out translatetest.Words
			random.Fill(&in)
			given := in
			p.Run(&in, &out)
			if in != given {
				t.Fatalf("%s changes its input", p.Name)
			}
			want := fmt.Sprintf("%s %d %08x", p.Name, round, translatetest.Mix(2166136261, &out))
			if !lines.Scan() {
				t.Fatalf("C ends before %s", want)
			}
			if lines.Text() != want {
				t.Fatalf("C says %q, Go %q, of %v: %v", lines.Text(), want, in.V, out.V)
			}
		}
	}
	if lines.Scan() {
		t.Errorf("C goes on: %q", lines.Text())
	}
}

// The C reads as the Go does.
func TestGolden(t *testing.T) {
	r := programs(t)
	datasettest.Golden(t, "programs.h", []byte(header(r)))
	datasettest.Golden(t, "programs.c", []byte(code(r)))
}

// A program's text does not depend on the order of packages or of maps.
func TestRepeats(t *testing.T) {
	first := programs(t)
	for range 5 {
		if again := programs(t); again.Code != first.Code || again.Header != first.Header {
			t.Fatal("a second translation differs")
		}
	}
}
