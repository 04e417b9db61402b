package shell

import (
	"strings"
	"testing"
)

// typed is words as one would type them, by how one is.
func typed(words []string, word func(string) string) string {
	var out []string
	for _, w := range words {
		out = append(out, word(w))
	}
	return strings.Join(out, " ")
}

func TestPosix(t *testing.T) {
	for _, c := range []struct {
		words []string
		want  string
	}{
		{nil, ""},
		{[]string{"gym", "über-1", "../gym/monday.csv.zst"}, "gym über-1 ../gym/monday.csv.zst"},
		{[]string{"my gym", ""}, "'my gym' ''"},
		{[]string{"anna's", "$HOME", "a\nb"}, `'anna'\''s' '$HOME' 'a` + "\n" + `b'`},
	} {
		if got := typed(c.words, posixWord); got != c.want {
			t.Errorf("%q: %s, want %s", c.words, got, c.want)
		}
	}
}

func TestWindows(t *testing.T) {
	for _, c := range []struct {
		words []string
		want  string
	}{
		{nil, ""},
		{[]string{"gym", `C:\Users\anna\gym`, `..\logs\monday.csv.zst`, `\\nas\gyms`}, `gym C:\Users\anna\gym ..\logs\monday.csv.zst \\nas\gyms`},
		{[]string{`C:\my gym`, "", "anna's", "a,b", "@x", "R&D", "(1)"}, `"C:\my gym" "" "anna's" "a,b" "@x" "R&D" "(1)"`},
		{[]string{`C:\my gym\`}, `"C:\my gym\\"`},
		{[]string{"$5 anna's"}, `'$5 anna''s'`},
	} {
		if got := typed(c.words, windowsWord); got != c.want {
			t.Errorf("%q: %s, want %s", c.words, got, c.want)
		}
	}
}

func TestLine(t *testing.T) {
	if got := Line("find", "-C", "gym"); got != "find -C gym" {
		t.Errorf("got %s", got)
	}
}
