package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"strikerose/dataset/datasettest"
)

func itoa(n int) string { return strconv.Itoa(n) }

// exampleOrder is the order in which the examples of the commands build on
// each other in one directory.
var exampleOrder = []string{
	"", "help", "completion", "completion bash", "completion fish", "completion powershell", "completion zsh",
	"demo", "rig", "rig new", "rig show", "rig calibrate", "simulate", "plan", "import", "session", "session list", "session show", "find", "rig tune",
	"label", "label plan", "label truth", "label video", "label list", "label read", "label agree", "label doubt", "label serve", "features", "draw", "draw session", "draw strike", "draw cell", "draw path", "draw ringdown", "detectors", "compare", "train", "tune", "adapt", "apply", "export", "check",
	"session set", "session rename", "session drop", "version", "man",
}

// commands returns every command of the tree by its path.
func commands(root *cobra.Command) map[string]*cobra.Command {
	all := map[string]*cobra.Command{}
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		all[strings.TrimPrefix(strings.TrimPrefix(c.CommandPath(), root.Name()), " ")] = c
		for _, child := range c.Commands() {
			walk(child)
		}
	}
	walk(root)
	return all
}

// Every help has an example, and every example works.
func TestExamples(t *testing.T) {
	long(t)
	t.Chdir(fixture(t))
	all := commands(newRoot(testWorld(new(bytes.Buffer), new(bytes.Buffer))))
	for path := range all {
		if !slices.Contains(exampleOrder, path) {
			t.Errorf("strikerose %s: its example is not in the order of this test", path)
		}
	}
	seen := map[string]bool{}
	for _, path := range exampleOrder {
		cmd := all[path]
		if cmd == nil {
			t.Errorf("there is no command strikerose %s", path)
			continue
		}
		if cmd.Example == "" {
			t.Errorf("strikerose %s: its help has no example", path)
		}
		for _, line := range strings.Split(cmd.Example, "\n") {
			if seen[line] {
				continue // a group's example is one of its commands'
			}
			if !cmd.HasSubCommands() || path == "" {
				seen[line] = true
				if path == "label serve" { // runs until it is stopped
					serveLine(t, strings.Fields(line)[1:]...).stop()
					continue
				}
				runLine(t, line)
			}
		}
		help := mustRun(t, append(strings.Fields(path), "--help")...)
		for _, want := range []string{cmd.Example, "Exit status: 0 done"} {
			if !strings.Contains(help, want) {
				t.Errorf("strikerose %s --help lacks %q", path, want)
			}
		}
	}
}

// runLine executes a line of documentation that starts with strikerose.
func runLine(t *testing.T, line string) {
	t.Helper()
	words := strings.Fields(line)
	if len(words) == 0 || words[0] != "strikerose" {
		t.Fatalf("%q is no command line of strikerose", line)
	}
	var out, errs bytes.Buffer
	if status := run(context.Background(), words[1:], testWorld(&out, &errs)); status != exitDone {
		t.Errorf("%s: exit status %d:\n%s", line, status, errs.String())
	}
}

// The commands of the README work in their order.
func TestReadmeCommands(t *testing.T) {
	long(t)
	readme := readREADME(t)
	t.Chdir(fixture(t))
	for from, to := range map[string]string{"monday.csv.zst": "evening1.csv.zst", "friday.bin.zst": "evening2.bin.zst",
		"monday-plan.csv": "evening1-plan.csv", "friday-plan.csv": "evening2-plan.csv"} {
		if err := os.Rename(from, to); err != nil {
			t.Fatal(err)
		}
	}
	struck, err := os.ReadFile("evening1-plan.csv")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, block := range blocks(readme, "sh") {
		for _, line := range strings.Split(block, "\n") {
			line, _, _ = strings.Cut(line, "#")
			line = strings.TrimSpace(line)
			if !strings.HasPrefix(line, "strikerose ") {
				continue
			}
			n++
			runLine(t, line)
			if strings.HasPrefix(line, "strikerose plan ") { // the evening was struck by this one
				if err := os.WriteFile("evening1-plan.csv", struck, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if strings.HasPrefix(line, "strikerose rig new ") { // fill it in
				data, err := os.ReadFile("hall.toml")
				if err != nil {
					t.Fatal(err)
				}
				data = bytes.Replace(data, []byte(`name = "hall"`), []byte(`name = "garage"`), 1)
				if err := os.WriteFile("garage.toml", data, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	if n < 8 {
		t.Errorf("the README shows %d commands of an evening, want at least 8", n)
	}
}

// The logging sketch of the README compiles, and what it writes is imported
// without a damaged frame.
func TestReadmeSketch(t *testing.T) {
	long(t)
	sketch := blocks(readREADME(t), "c")
	if len(sketch) != 1 {
		t.Fatalf("the README holds %d blocks of C, want one", len(sketch))
	}
	gcc := datasettest.RequireTool(t, "gcc", "apt-get install gcc libc6-dev")
	dir := fixture(t)
	source := sketch[0] + `
#include <stdio.h>
int main(void) {
	for (uint32_t i = 0; i < 3000; i++) {
		int16_t a[3] = {(int16_t)(i % 5) - 2, (int16_t)(i % 7) - 3, 2048 + (int16_t)(i % 3)}, g[3] = {1, -2, (int16_t)(i % 2)};
		uint8_t frame[FRAME_BYTES];
		frame_make(frame, 4294000000u + 1000u * i, a, g);
		fwrite(frame, 1, sizeof frame, stdout);
	}
	return 0;
}
`
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	binary := filepath.Join(dir, "sketch")
	if out, err := exec.Command(gcc, "-std=c99", "-Wall", "-Wextra", "-Werror", "-pedantic", "-o", binary, write("sketch.c", source)).CombinedOutput(); err != nil {
		t.Fatalf("the sketch does not compile: %v\n%s", err, out)
	}
	frames, err := exec.Command(binary).Output()
	if err != nil {
		t.Fatal(err)
	}
	log := write("sketch.bin", string(frames))
	out := mustRun(t, "import", "-C", filepath.Join(dir, "c"), "--rig", filepath.Join(dir, "hall.toml"), log)
	for _, want := range []string{"recognised   frames", "3000 in 1 segment", "the board's counter wrapped: 1"} {
		if !strings.Contains(out, want) {
			t.Errorf("import of the sketch's frames lacks %q:\n%s", want, out)
		}
	}
	if strings.Contains(out, "damaged") {
		t.Errorf("import of the sketch's frames found damage:\n%s", out)
	}
}

func readREADME(t *testing.T) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(datasettest.Root(t), "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// blocks returns the fenced blocks of a language.
func blocks(markdown, language string) []string {
	var out []string
	for _, m := range regexp.MustCompile("(?s)```"+language+"\n(.*?)```").FindAllStringSubmatch(markdown, -1) {
		out = append(out, m[1])
	}
	return out
}
