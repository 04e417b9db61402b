// Package shell writes words as one would type them in a POSIX shell, so that a
// command that is named can be run as it stands.
package shell

import "strings"

// special is what a shell takes for something else than itself.
const special = " \t\n'\"$\\&|;<>()*?[]#~`!{}"

// Word is a word as one would type it: as it is, or in quotes where a shell would
// take it apart.
func Word(word string) string {
	if word != "" && !strings.ContainsAny(word, special) {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// Line is several words, one after another.
func Line(words ...string) string {
	typed := make([]string, len(words))
	for i, word := range words {
		typed[i] = Word(word)
	}
	return strings.Join(typed, " ")
}
