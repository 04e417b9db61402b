package corpus

import (
	"errors"
	"strings"
	"testing"
)

func TestValidName(t *testing.T) {
	for _, name := range []string{"monday", "session01", "2026-11-25 evening", "Übung_3.b", "com", "com10", "console", strings.Repeat("a", maxNameBytes)} {
		if err := ValidName(name); err != nil {
			t.Errorf("ValidName(%q) = %v, want none", name, err)
		}
	}
	for name, says := range map[string]string{
		"":                                  "empty",
		"..":                                "dot",
		".hidden":                           "dot",
		"a.":                                "dot",
		"-f":                                "flag",
		"a/b":                               "holds",
		`a\b`:                               "holds",
		"../../etc":                         "dot",
		"a=b":                               "holds",
		"a\nb":                              "holds",
		"a\x00":                             "holds",
		"a\u202eb":                          "holds",
		"a\u200bb":                          "holds",
		"a,b":                               "holds",
		"a:b":                               "holds",
		"a*":                                "holds",
		" a":                                "space",
		"a ":                                "space",
		"\xff":                              "UTF-8",
		"con":                               "Windows",
		"NUL.txt":                           "Windows",
		"Com1":                              "Windows",
		strings.Repeat("a", maxNameBytes+1): "bytes",
	} {
		if err := ValidName(name); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("ValidName(%q) = %v, want an error about %q", name, err, says)
		}
	}
}

// FuzzValidName: whatever is accepted is a single, visible, local path element.
func FuzzValidName(f *testing.F) {
	for _, seed := range []string{"monday", "..", "a/b", "con", "ſ", "İ"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, name string) {
		if ValidName(name) != nil {
			return
		}
		if strings.ContainsAny(name, `/\=`) || name == "" || name[0] == '.' || len(name) > maxNameBytes {
			t.Errorf("ValidName(%q) accepts it", name)
		}
		if len("session-"+folded(name)+".lock") > 255 {
			t.Errorf("ValidName(%q) accepts a name whose lock file is too long", name)
		}
	})
}

func TestClosestNames(t *testing.T) {
	c := fixture(t)
	_, err := c.Session("mondya")
	if !errors.Is(err, ErrUnknownSession) || !strings.Contains(err.Error(), "monday") || strings.Contains(err.Error(), "friday") {
		t.Errorf("got %v, want ErrUnknownSession that names monday and not friday", err)
	}
	if _, err := c.Session("zzz"); err == nil || !strings.Contains(err.Error(), "session list") {
		t.Errorf("got %v, want an error that names the command that lists sessions", err)
	}
}

func TestSelect(t *testing.T) {
	c := fixture(t)
	for _, tc := range []struct {
		rigs, sessions, want, says string
	}{
		{"", "", "friday monday tuesday", ""},
		{"garage", "", "monday tuesday", ""},
		{"garage-r1 attic", "", "friday monday tuesday", ""},
		{"", "tuesday friday", "friday tuesday", ""},
		{"garage", "tuesday friday", "tuesday", ""},
		{"cellar", "", "", "attic-r1, garage-r1"},
		{"garage-r2", "", "", "attic-r1, garage-r1"},
		{"", "tuesdai", "", "tuesday"},
		{"attic", "monday", "", "none of the sessions"},
	} {
		rows, err := c.Select(strings.Fields(tc.rigs), strings.Fields(tc.sessions))
		var names []string
		for _, r := range rows {
			names = append(names, r.Name)
		}
		if got := strings.Join(names, " "); got != tc.want {
			t.Errorf("Select(%q, %q) = %q, want %q", tc.rigs, tc.sessions, got, tc.want)
		}
		if (err != nil) != (tc.says != "") || err != nil && !strings.Contains(err.Error(), tc.says) {
			t.Errorf("Select(%q, %q): error %v, want one about %q", tc.rigs, tc.sessions, err, tc.says)
		}
	}
}
