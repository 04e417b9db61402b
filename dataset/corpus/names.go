package corpus

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
	"golang.org/x/text/unicode/norm"
)

const maxNameBytes = 100

// ValidName tells whether a session may bear a name. Names become folder names
// on any file system, partition values and words on a command line, so these
// are refused: empty, longer than 100 bytes, not UTF-8, starting with a dot or
// a dash, ending in a dot or with space at either end, what does not print
// (control characters, marks that turn the direction of writing), any of
// / \ = : * ? " < > | , % and names that Windows keeps for devices.
func ValidName(name string) error {
	bad := func(why string, remedy string) error {
		return fmt.Errorf("session name %q: %s: %s", name, why, remedy)
	}
	switch {
	case name == "":
		return bad("is empty", "give one with --session")
	case len(name) > maxNameBytes:
		return fmt.Errorf("session name %.20q...: is %d bytes long: use at most %d", name, len(name), maxNameBytes)
	case !utf8.ValidString(name):
		return bad("is not UTF-8", "use letters, digits, dash, underscore and dot")
	case name[0] == '.':
		return bad("starts with a dot", "start with a letter or digit")
	case name[0] == '-':
		return bad("starts with a dash and would be read as a flag", "start with a letter or digit")
	case strings.HasSuffix(name, "."):
		return bad("ends with a dot", "leave it out")
	case strings.TrimSpace(name) != name:
		return bad("starts or ends with space", "leave it out")
	}
	for _, r := range name {
		if !unicode.IsPrint(r) || strings.ContainsRune(`/\=:*?"<>|,%`, r) {
			return bad(fmt.Sprintf("holds %q", r), "use letters, digits, dash, underscore and dot")
		}
	}
	stem, _, _ := strings.Cut(strings.ToLower(name), ".")
	stem = strings.TrimSpace(stem)
	device := slices.Contains([]string{"con", "prn", "aux", "nul"}, stem)
	if len(stem) == 4 && (strings.HasPrefix(stem, "com") || strings.HasPrefix(stem, "lpt")) && stem[3] >= '0' && stem[3] <= '9' {
		device = true
	}
	if device {
		return bad("is kept for a device on Windows", "choose another, such as "+stem+"-1")
	}
	return nil
}

// folded is the form under which two names clash on a file system that ignores
// case, or how letters with accents are composed.
func folded(name string) string { return strings.ToLower(strings.ToUpper(norm.NFC.String(name))) }

// closest returns up to three of names that are near to name, nearest first.
func closest(name string, names []string) []string {
	if len(name) > maxNameBytes {
		return nil
	}
	type candidate struct {
		name     string
		distance int
	}
	var near []candidate
	for _, n := range names {
		d := levenshtein.ComputeDistance(folded(name), folded(n))
		if strings.Contains(folded(n), folded(name)) || d <= max(2, len(name)/4) {
			near = append(near, candidate{n, d})
		}
	}
	slices.SortStableFunc(near, func(a, b candidate) int { return a.distance - b.distance })
	var out []string
	for _, c := range near[:min(3, len(near))] {
		out = append(out, c.name)
	}
	return out
}
