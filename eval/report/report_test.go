package report_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"io"
	"os"
	"regexp"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/eval/report"
	"strikerose/models"
)

func comparison(t *testing.T, sessions []evaltest.Session) *eval.Comparison {
	t.Helper()
	c, err := eval.Compare(t.Context(), evaltest.Data(sessions, 1), evaltest.Families(), eval.Options{Seed: 1, Resamples: 300})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func oneRig() []evaltest.Session { return evaltest.Sessions(4, 60) }

func twoRigs() []evaltest.Session {
	return append(evaltest.Sessions(2, 40),
		evaltest.Session{Name: "y1", Striker: "ann", Rig: evaltest.Rig("yard", 1, 0), Strikes: 40},
		evaltest.Session{Name: "y2", Striker: "bo", Rig: evaltest.Rig("yard", 2, 0), Strikes: 40})
}

var meta = report.Meta{Corpus: "a1b2c3", Tool: "strikerose test", Command: "strikerose compare"}

func TestTextGolden(t *testing.T) {
	for name, sessions := range map[string][]evaltest.Session{"one_rig.txt": oneRig(), "two_rigs.txt": twoRigs()} {
		var b bytes.Buffer
		if err := report.Text(&b, comparison(t, sessions)); err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(b.String(), "\n") {
			if n := len([]rune(line)); n > report.Width {
				t.Errorf("%s:%d: %d columns, want at most %d: %s", name, i+1, n, report.Width, line)
			}
		}
		datasettest.Golden(t, name, b.Bytes())
	}
}

func TestCSVHoldsEveryFigure(t *testing.T) {
	c := comparison(t, twoRigs())
	var b bytes.Buffer
	if err := report.CSV(&b, c); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := 1
	for _, g := range c.Groups {
		want += len(g.Rows) * len(c.Measures)
		if g.Choice != nil {
			want += 5 * len(g.Choice.Costs)
		}
	}
	for _, s := range c.Sensitivity {
		for _, f := range s.Factors {
			want += 2 * len(f.Levels)
		}
	}
	if len(rows) != want {
		t.Errorf("%d lines, want %d", len(rows), want)
	}
	for _, r := range rows[1:] {
		if r[7] == "flip_share" && r[8] == "" {
			t.Errorf("no value in %v", r)
		}
		if ranked := r[7] == eval.BearingMAE || r[7] == eval.HeightMAE; ranked != (r[13] != "" && r[14] != "") {
			t.Errorf("bounds %q and %q in %v", r[13], r[14], r)
		}
		if strings.Contains(strings.Join(r, ","), "NaN") {
			t.Errorf("NaN in %v", r)
		}
	}
}

func TestJSONRoundTrip(t *testing.T) {
	c := comparison(t, oneRig())
	var b bytes.Buffer
	if err := report.JSON(&b, c, meta); err != nil {
		t.Fatal(err)
	}
	var back struct {
		Version    int
		Corpus     string
		Comparison eval.Comparison
	}
	if err := json.Unmarshal(b.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if back.Version != 1 || back.Corpus != meta.Corpus {
		t.Errorf("version %d, corpus %q, want 1 and %q", back.Version, back.Corpus, meta.Corpus)
	}
	first, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	again, err := json.Marshal(back.Comparison)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first, again) {
		t.Error("a comparison read back from JSON marshals to something else")
	}
	if !regexp.MustCompile(`"height_mae_m": \{\s*"value": null`).Match(b.Bytes()) {
		t.Error("a figure that is not known is not null")
	}
}

func page(t *testing.T, sessions []evaltest.Session) string {
	t.Helper()
	var b bytes.Buffer
	if err := report.HTML(&b, comparison(t, sessions), meta); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestHTMLIsSelfContained(t *testing.T) {
	got := page(t, twoRigs())
	for _, banned := range []string{"<script", "<link", "<img", "@import", "url(", "src=", "NaN", "font-family:Lib"} {
		if strings.Contains(got, banned) {
			t.Errorf("the page holds %q", banned)
		}
	}
	without := regexp.MustCompile(`xmlns(:xlink)?="[^"]*"`).ReplaceAllString(got, "")
	if i := strings.Index(without, "http"); i >= 0 {
		t.Errorf("the page points elsewhere: %s", without[i:i+60])
	}
	if left := regexp.MustCompile(`#00000[1-9]`).FindString(got); left != "" {
		t.Errorf("the stand-in colour %s is left in the page", left)
	}
	svgs := regexp.MustCompile(`<svg[^>]*>`).FindAllString(got, -1)
	want := 0
	for _, f := range report.Figures(comparison(t, twoRigs()), nil) {
		if !strings.HasPrefix(f.Name, "confusion-") { // tables in the page
			want++
		}
	}
	if len(svgs) != want || want < 40 {
		t.Errorf("%d figures in the page, want %d", len(svgs), want)
	}
	for _, s := range svgs {
		if !strings.Contains(s, `role="img"`) || !strings.Contains(s, `aria-label="`) {
			t.Errorf("a figure says nothing to those who cannot see it: %s", s)
		}
	}
	for _, want := range []string{"prefers-color-scheme: dark", "@media print", "a1b2c3", "strikerose compare", "lang=\"en\"", " × bound</small>", "Bound: the least mean error"} {
		if !strings.Contains(got, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// Every tag is closed, in the strict sense of XML.
func TestHTMLIsWellFormed(t *testing.T) {
	got := page(t, twoRigs())
	got = strings.Replace(got, "<!DOCTYPE html>", "", 1)
	got = regexp.MustCompile(`<meta[^>]*>`).ReplaceAllString(got, "")
	got = strings.ReplaceAll(got, "&nbsp;", " ")
	d := xml.NewDecoder(strings.NewReader(got))
	d.Strict = true
	for {
		_, err := d.Token()
		if err == io.EOF {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func TestHTMLIsTheSameEachTime(t *testing.T) {
	if page(t, oneRig()) != page(t, oneRig()) {
		t.Error("two pages of the same comparison differ")
	}
	if dir := os.Getenv("STRIKEROSE_KEEP_PAGES"); dir != "" {
		for name, sessions := range map[string][]evaltest.Session{"one_rig.html": oneRig(), "two_rigs.html": twoRigs()} {
			if err := os.WriteFile(dir+"/"+name, []byte(page(t, sessions)), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// What takes fits of its own comes to every form of the report.
func TestReportOfLearningAndSessions(t *testing.T) {
	d := evaltest.Data(oneRig(), 1)
	c, err := eval.Compare(t.Context(), d, evaltest.Families(), eval.Options{Seed: 1, Resamples: 100})
	if err != nil {
		t.Fatal(err)
	}
	learner := evaltest.Families()[2]
	if c.Learning, _, err = eval.Learn(t.Context(), d, []models.Family{learner}, eval.LearningOptions{Seed: 1, Resamples: 100}); err != nil {
		t.Fatal(err)
	}
	if c.SessionEffects, _, err = eval.SessionEffects(t.Context(), d, learner, eval.Options{Seed: 1, Resamples: 100}); err != nil {
		t.Fatal(err)
	}
	var text, page, table bytes.Buffer
	for _, err := range []error{report.Text(&text, c), report.HTML(&page, c, meta), report.CSV(&table, c)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for i, line := range strings.Split(text.String(), "\n") {
		if n := len([]rune(line)); n > report.Width {
			t.Errorf("line %d: %d columns: %s", i+1, n, line)
		}
	}
	for _, want := range []string{"learning, learner on rig shed: 4 sessions left out in turn, 3 draws", "another 100 strikes to the 240 there are", "mean errors of learner on the other sessions"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the text lacks %q", want)
		}
	}
	for _, want := range []string{"How many strikes to record", "Chart of the mean height error, cm of learner on rig shed", "What the error depends on", "when one is not trained on"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if found := regexp.MustCompile(`NaN|#00000[1-9]`).FindString(page.String()); found != "" {
		t.Errorf("the page holds %q", found)
	}
	for _, want := range []string{"\n,,,240,,0,learner,cost_macs,0,", "learner,cost_board,0,", "learner,learning_bearing_mae_deg,", ",labels,6\n", "effect_height_mae_m", ",without session,s02\n", "sensitivity_bearing_mae_deg", ",band,low\n"} {
		if !strings.Contains(table.String(), want) {
			t.Errorf("the table lacks %q", want)
		}
	}
}
