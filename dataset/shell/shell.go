// Package shell writes words as one would type them in a shell, so that a command
// that is named can be run as it stands: a POSIX shell, or on Windows both of its
// own, the Command Prompt and PowerShell.
package shell

import (
	"runtime"
	"strings"
)

// Word is a word as one would type it: as it is, or in quotes where a shell would
// take it apart.
func Word(word string) string {
	if runtime.GOOS == "windows" {
		return windowsWord(word)
	}
	return posixWord(word)
}

// special is what a POSIX shell takes for something else than itself.
const special = " \t\n'\"$\\&|;<>()*?[]#~`!{}"

func posixWord(word string) string {
	if word != "" && !strings.ContainsAny(word, special) {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// What one of the shells of Windows takes for something else than itself, and what
// PowerShell does even within double quotes.
const (
	specialOnWindows       = " \t\n'\"$&|;<>()[]#~`!{}^,@%"
	expandedInDoubleQuotes = "$`"
)

// windowsWord writes double quotes, which both shells of Windows know, unless
// PowerShell would not leave alone what is in them.
func windowsWord(word string) string {
	switch {
	case word != "" && !strings.ContainsAny(word, specialOnWindows):
		return word
	case strings.ContainsAny(word, expandedInDoubleQuotes):
		return "'" + strings.ReplaceAll(word, "'", "''") + "'"
	}
	if trailing := len(word) - len(strings.TrimRight(word, `\`)); trailing > 0 {
		word += strings.Repeat(`\`, trailing) // else the last would take the quote for itself
	}
	return `"` + word + `"`
}

// Line is several words, one after another.
func Line(words ...string) string {
	typed := make([]string, len(words))
	for i, word := range words {
		typed[i] = Word(word)
	}
	return strings.Join(typed, " ")
}
