package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"
)

// TestNothingIsObeyed: whatever a file's words hold, a terminal gets words.
func TestNothingIsObeyed(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"garage\tlow\n", "garage\tlow\n"},
		{"Ünïcode, \u00a0and 打 …", "Ünïcode, \u00a0and 打 …"},
		{"red \x1b[31m, title \x1b]0;x\x07", `red \u001b[31m, title \u001b]0;x\u0007`},
		{"overwritten\rby this\b", `overwritten\u000dby this\u0008`},
		{"one byte \u009b31m", `one byte \u009b31m`},
		{"turned \u202etxt.exe", `turned \u202etxt.exe`},
		{"tagged \U000e0001", `tagged \udb40\udc01`},
		{"broken \xff\xc3", `broken \xff`},
	} {
		var all, single bytes.Buffer
		forPeople(&all).Write([]byte(c.in))
		p := forPeople(&single)
		for i := range len(c.in) {
			if n, err := p.Write([]byte{c.in[i]}); n != 1 || err != nil {
				t.Fatalf("Write = %d, %v", n, err)
			}
		}
		if all.String() != c.want || single.String() != c.want {
			t.Errorf("%q gives %q, byte by byte %q, want %q", c.in, all.String(), single.String(), c.want)
		}
	}
}

// JSON stays what it says.
func TestPlainJSONMeansTheSame(t *testing.T) {
	in := "red \x1b[31m \u007f\u009b \u202e \U000e0001 打"
	var b bytes.Buffer
	if err := printJSON(forPeople(&b), in); err != nil {
		t.Fatal(err)
	}
	var out string
	if err := json.Unmarshal(b.Bytes(), &out); err != nil || out != in {
		t.Errorf("%s means %q (%v), want %q", b.String(), out, err, in)
	}
}

// What a command says of a file's words goes through it.
func TestErrorsArePlain(t *testing.T) {
	var out, errs bytes.Buffer
	if code := run(t.Context(), []string{"rig", "show", "no\x1b[2Jsuch.toml"}, world{in: strings.NewReader(""), out: &out, err: &errs}); code != exitFailed {
		t.Errorf("exit status %d", code)
	}
	if text := errs.String(); strings.Contains(text, "\x1b") || !strings.Contains(text, `\u001b[2J`) {
		t.Errorf("it says %q", text)
	}
	errs.Reset()
	printError(forPeople(&errs), errors.New("a\x07b"))
	if errs.String() != "strikerose: a\\u0007b\n" {
		t.Errorf("it says %q", errs.String())
	}
}

// Progress stays on one line: its words are cut, and what draws it is given the
// terminal, whose width it asks.
func TestProgressFits(t *testing.T) {
	for what, want := range map[string]string{
		"reading monday.csv":                             "reading monday.csv",
		"leaving sessions out of training":               "leaving sessions out of training",
		"reading /home/anna/evenings/logs/monday.csv.gz": "reading …ings/logs/monday.csv.gz",
	} {
		if got := short(what); got != want {
			t.Errorf("%q is cut to %q, want %q", what, got, want)
		}
	}
	var terminal bytes.Buffer
	if got := bare(forPeople(&breaker{to: &terminal})); got != &terminal {
		t.Errorf("progress is drawn on a %T", got)
	}
}
