package main

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"
)

// testWorld is a world without a terminal whose clock stands still.
func testWorld(out, errs *bytes.Buffer) world {
	return world{
		in: strings.NewReader(""), out: out, err: errs,
		getenv: func(string) string { return "" },
		now:    func() time.Time { return time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC) },
	}
}

func TestExitStatus(t *testing.T) {
	for _, tc := range []struct {
		args        string
		want        int
		out, stderr string
	}{
		{"help", exitDone, "Usage:", ""},
		{"--help", exitDone, "Exit status: 0 done", ""},
		{"--version", exitDone, "strikerose ", ""},
		{"", exitUsage, "", "a command is missing"},
		{"hepl", exitUsage, "", `"hepl" is no command`},
		{"fnid", exitUsage, "", "did you mean find?"},
		{"help nonsense", exitUsage, "", `"nonsense" is no command`},
		{"completion", exitUsage, "", "a command is missing"},
		{"completion tcl", exitUsage, "", `"tcl" is no command`},
		{"completion bash", exitDone, "strikerose", ""},
		{"--nonsense", exitUsage, "", "unknown flag: --nonsense"},
		{"rig show", exitUsage, "", "the rig file to show is missing"},
		{"rig show a.toml b.toml c.toml", exitUsage, "", "one argument too many"},
		{"rig show a.toml --force 0", exitUsage, "", "give a number above 0"},
		{"rig show a.toml", exitFailed, "", "strikerose rig new a.toml writes one"},
	} {
		var out, errs bytes.Buffer
		got := run(context.Background(), strings.Fields(tc.args), testWorld(&out, &errs))
		if got != tc.want {
			t.Errorf("strikerose %s: exit status %d, want %d", tc.args, got, tc.want)
		}
		if !strings.Contains(out.String(), tc.out) {
			t.Errorf("strikerose %s: standard output lacks %q:\n%s", tc.args, tc.out, out.String())
		}
		if !strings.Contains(errs.String(), tc.stderr) {
			t.Errorf("strikerose %s: standard error lacks %q:\n%s", tc.args, tc.stderr, errs.String())
		}
		if tc.want == exitUsage && out.Len() > 0 {
			t.Errorf("strikerose %s: wrong usage wrote to standard output:\n%s", tc.args, out.String())
		}
	}
}
