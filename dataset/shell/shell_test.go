package shell

import "testing"

func TestLine(t *testing.T) {
	for _, c := range []struct {
		words []string
		want  string
	}{
		{nil, ""},
		{[]string{"gym", "über-1", "../gym/monday.csv.zst"}, "gym über-1 ../gym/monday.csv.zst"},
		{[]string{"my gym", ""}, "'my gym' ''"},
		{[]string{"anna's", "$HOME", "a\nb"}, `'anna'\''s' '$HOME' 'a` + "\n" + `b'`},
	} {
		if got := Line(c.words...); got != c.want {
			t.Errorf("%q: %s, want %s", c.words, got, c.want)
		}
	}
}
