package report_test

import (
	"bytes"
	"strings"
	"testing"

	"strikerose/eval/report"
)

// The page names the command that trains the detector to take, where there is one
// for all rigs.
func TestPageNamesTheNextCommand(t *testing.T) {
	c := comparison(t, twoRigs())
	for _, test := range []struct {
		shed, yard string // the detector that meets the goal on each rig; "" where none does
		want       string
	}{
		{"learner", "learner", "strikerose train --detector learner -o detector.json"},
		{"learner", "twin", ""},
		{"learner", "", ""},
		{"", "", ""},
	} {
		for _, g := range c.Groups {
			if take, whole := map[string]string{"shed": test.shed, "yard": test.yard}[g.Rig]; whole && g.Choice != nil && g.Choice.Verdict != nil {
				g.Choice.Verdict.Met, g.Choice.Verdict.Detector = take != "", take
			}
		}
		var page bytes.Buffer
		if err := report.HTML(&page, c, meta); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(page.String(), "Next: "); got != (test.want != "") || !strings.Contains(page.String(), test.want) {
			t.Errorf("%q and %q: a next command: %v, want %q", test.shed, test.yard, got, test.want)
		}
	}
}
