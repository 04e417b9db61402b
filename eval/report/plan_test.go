package report_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"strikerose/eval/report"
)

// Where a plan was scored against, the sentence that names the detector that errs
// least says what from, on the page and in the terminal.
func TestPlanErrorsAreFromMiddles(t *testing.T) {
	c := comparison(t, oneRig())
	blanks := regexp.MustCompile(`\s+`)
	for _, test := range []struct {
		share      float64
		page, text string // "" where neither speaks of middles
	}{
		{0, "", ""},
		{1, `Up and down, [a-z-]+ errs least: by [0-9.]+ cm on average( \[[0-9., ]+\])? from the middle of the called band[;.]`,
			"Errors are from the middle of the called face and band, and a plan's labels alone make mean errors of about"},
		{0.4, `Around the bag, [a-z-]+ errs least: by [0-9.]+ degrees on average( \[[0-9., ]+\])? from the middle of the called face for 40 % of the strikes[;.]`,
			"Errors are from the middle of the called face and band for 40 % of the strikes, and a plan's labels alone"},
	} {
		c.Floor.PlanShare = test.share
		var page, text bytes.Buffer
		if err := report.HTML(&page, c, meta); err != nil {
			t.Fatal(err)
		}
		if err := report.Text(&text, c); err != nil {
			t.Fatal(err)
		}
		said := blanks.ReplaceAllString(strings.ReplaceAll(page.String(), "\u00a0", " "), " ")
		told := blanks.ReplaceAllString(text.String(), " ")
		if strings.Contains(said, "lie in an interval that is right") != (test.share > 0) {
			t.Errorf("with %g of the labels from a plan, the page is wrong on what they make of the certainty", test.share)
		}
		if test.page == "" {
			if strings.Contains(said, "from the middle of the called") || strings.Contains(told, "from the middle of the called") {
				t.Errorf("page or text speak of what was called, but no label is of a plan")
			}
			continue
		}
		if !regexp.MustCompile(test.page).MatchString(said) {
			t.Errorf("with %g of the labels from a plan, the page lacks %s", test.share, test.page)
		}
		if !strings.Contains(told, test.text) {
			t.Errorf("with %g of the labels from a plan, the text lacks %q", test.share, test.text)
		}
	}
}
