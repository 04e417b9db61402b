package main

import (
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"strikerose/eval/report"
)

// breakHelp breaks the long help of a command, and of all below it, into lines that
// a terminal shows whole.
func breakHelp(cmd *cobra.Command) {
	cmd.Long = filled(cmd.Long)
	for _, c := range cmd.Commands() {
		breakHelp(c)
	}
}

// filled breaks the paragraphs anew that have a line too long for a terminal. Those
// with indented lines, as tables are, stay as they are.
func filled(text string) string {
	paragraphs := strings.Split(text, "\n\n")
	for i, p := range paragraphs {
		lines := strings.Split(p, "\n")
		tooLong := func(l string) bool { return utf8.RuneCountInString(l) > columns }
		indented := func(l string) bool { return strings.HasPrefix(l, " ") }
		if slices.ContainsFunc(lines, tooLong) && !slices.ContainsFunc(lines, indented) {
			paragraphs[i] = strings.TrimSuffix(report.Wrap(p, ""), "\n")
		}
	}
	return strings.Join(paragraphs, "\n\n")
}
