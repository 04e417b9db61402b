package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// linesKept names the directory to which the commands of a script test write what
// they said amiss.
const linesKept = "STRIKEROSE_TEST_LINES"

// heard is the program for script tests: what it says goes out as ever, and
// lines that people cannot read on a terminal of 80 columns are kept.
func heard() {
	// Standard error is looked at as a terminal would show it.
	var shown spoken
	out, errs := &spoken{to: os.Stdout}, io.MultiWriter(os.Stderr, &breaker{to: &shown})
	status := runHere(out, errs)
	var amiss []string
	if !forPrograms(os.Args[1:]) {
		amiss = append(amiss, out.amiss()...)
	}
	amiss = append(amiss, shown.amiss()...)
	if dir := os.Getenv(linesKept); dir != "" && len(amiss) > 0 {
		text := fmt.Sprintf("strikerose %s\n\t%s\n", strings.Join(os.Args[1:], " "), strings.Join(amiss, "\n\t"))
		f, err := os.CreateTemp(dir, "command-*")
		if err == nil {
			_, err = f.WriteString(text)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(3)
		}
	}
	if dir := os.Getenv(linesKept); dir != "" && slices.Contains(os.Args, "--json") {
		if err := keepJSON(dir, os.Args[1:], out.text.Bytes()); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(3)
		}
	}
	os.Exit(status)
}

// forPrograms tells command lines whose standard output is for programs, or is a
// document, and no table for people.
func forPrograms(args []string) bool {
	if strings.HasPrefix(strings.Join(args, " "), "label list") && !slices.Contains(args, "-o") {
		return true // CSV
	}
	for k, arg := range args {
		if arg == "--json" || arg == "completion" || arg == "man" || arg == "--card" || arg == "-" && k > 0 && strings.HasPrefix(args[k-1], "-") {
			return true
		}
	}
	return false
}

// spoken keeps text, and passes it on if there is where to.
type spoken struct {
	to   io.Writer
	text bytes.Buffer
}

func (s *spoken) Write(p []byte) (int, error) {
	if s.to != nil {
		if _, err := s.to.Write(p); err != nil {
			return 0, err
		}
	}
	return s.text.Write(p)
}

// amiss lists lines wider than a terminal, but for those that are a single word,
// such as a path or a digest, and lines with codes that steer a terminal.
func (s *spoken) amiss() []string {
	var out []string
	for line := range strings.Lines(s.text.String()) {
		line = strings.TrimRight(line, "\n")
		if n := utf8.RuneCountInString(line); n > columns && len(strings.Fields(line)) > 1 {
			out = append(out, fmt.Sprintf("%d columns: %s", n, line))
		}
		if strings.ContainsAny(line, "\x1b\r") {
			out = append(out, "steers the terminal: "+line)
		}
	}
	return out
}

// nothingAmiss fails where a command of the test's scripts said what is amiss.
func nothingAmiss(t *testing.T, dir string) {
	files, err := filepath.Glob(filepath.Join(dir, "command-*"))
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(files)
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		t.Errorf("%s", text)
	}
}
