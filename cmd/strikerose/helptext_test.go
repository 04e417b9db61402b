package main

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"
)

// The help of every command fits a terminal, but for examples: those are pasted.
func TestHelpFits(t *testing.T) {
	var out bytes.Buffer
	var visit func(cmd *cobra.Command)
	visit = func(cmd *cobra.Command) {
		out.Reset()
		if err := cmd.Help(); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(out.String()) {
			if line = strings.TrimSuffix(line, "\n"); utf8.RuneCountInString(line) > columns && !strings.HasPrefix(line, "strikerose ") {
				t.Errorf("%s: %d columns: %s", cmd.CommandPath(), utf8.RuneCountInString(line), line)
			}
		}
		for _, c := range cmd.Commands() {
			visit(c)
		}
	}
	visit(newRoot(testWorld(&out, &out)))
}

func TestFilled(t *testing.T) {
	long := strings.TrimSpace(strings.Repeat("word ", 17)) // 84 columns
	for text, want := range map[string]string{
		"":                                    "",
		"two\nshort lines":                    "two\nshort lines",
		"one\n\n" + long + "\nrest":           "one\n\n" + strings.TrimSpace(strings.Repeat("word ", 16)) + "\nword rest",
		"a table\n  " + long:                  "a table\n  " + long,
		"kept\n\n  " + long + "\n\nlast\none": "kept\n\n  " + long + "\n\nlast\none",
	} {
		if got := filled(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
