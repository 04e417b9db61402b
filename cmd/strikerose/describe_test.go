package main

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// Lines end by column 80 wherever words allow, and no character is lost.
func TestPrintKeyed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(rapid.StringMatching(`[a-zä�:;"0-9]{1,20}|[x]{90}`), 1, 40).Draw(t, "words"), " ")
		var out strings.Builder
		printKeyed(&out, "repaired", text)
		lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
		back := make([]string, len(lines))
		for i, line := range lines {
			if head := line[:15]; i == 0 && head != "  repaired     " || i > 0 && head != strings.Repeat(" ", 15) {
				t.Fatalf("line %d begins %q", i+1, head)
			}
			back[i] = line[15:]
			if utf8.RuneCountInString(line) > 80 && strings.Contains(back[i], " ") {
				t.Fatalf("line %d is too long: %q", i+1, line)
			}
		}
		if got := strings.Join(back, " "); got != text {
			t.Fatalf("%q became %q", text, got)
		}
	})
	var out strings.Builder
	if printKeyed(&out, "note", "a  b "); out.String() != "  note         a  b \n" {
		t.Errorf("spaces are not kept: %q", out.String())
	}
}
