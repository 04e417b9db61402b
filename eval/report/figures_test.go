package report_test

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/eval/report"
)

// withTraces compares strikes that have windows: a push that decays.
func withTraces(t *testing.T, leave string) *eval.Comparison {
	t.Helper()
	d := evaltest.Data(twoRigs(), 1)
	for i := range d.Cases {
		w := &dataset.Window{RateHz: 100, Pre: 4}
		for k := range 20 {
			after := float64(max(0, k-w.Pre))
			for axis := range 3 {
				w.A[axis] = append(w.A[axis], float64(50*after)-float64(float64(4*axis)*after*after))
				if d.Cases[i].Rig.HasGyro() {
					w.G[axis] = append(w.G[axis], float64(axis)-after/8)
				}
			}
		}
		d.Cases[i].Window = w
	}
	c, err := eval.Compare(t.Context(), d, evaltest.Families(), eval.Options{Seed: 1, Resamples: 100, Leave: leave})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestFiguresGolden(t *testing.T) {
	c := withTraces(t, eval.LeaveRig)
	golden := map[string]bool{"rose-shed-learner": true, "error-by-bearing-bearing-shed-learner": true, "error-by-height-height-shed-learner": true,
		"heights-shed-learner": true, "confusion-bands-shed-learner": true, "depends-bearing-mae-deg-shed": true, "cost-bearing-mae-deg-shed": true,
		"rig-to-rig-bearing-mae-deg": true, "worst-01": true}
	seen := map[string]bool{}
	for _, f := range report.Figures(c, nil) {
		if seen[f.Name] {
			t.Errorf("two figures are called %s", f.Name)
		}
		seen[f.Name] = true
		if !regexp.MustCompile(`^[a-z0-9-]+$`).MatchString(f.Name) || f.Title == "" {
			t.Errorf("figure %q is titled %q", f.Name, f.Title)
		}
		var svg, numbers bytes.Buffer
		if err := f.SVG(&svg); err != nil {
			t.Fatal(err)
		}
		if err := f.CSV(&numbers); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(svg.String(), "NaN") || strings.Contains(numbers.String(), "NaN") || strings.Contains(svg.String(), "Inf") {
			t.Errorf("figure %s holds what is no number", f.Name)
		}
		rows, err := csv.NewReader(&numbers).ReadAll()
		if err != nil || len(rows) < 2 {
			t.Errorf("figure %s: %d rows, %v", f.Name, len(rows), err)
		}
		if golden[f.Name] {
			datasettest.Golden(t, "figure_"+f.Name+".svg", svg.Bytes())
		}
	}
	for name := range golden {
		if !seen[name] {
			t.Errorf("there is no figure %s", name)
		}
	}
}

// A page goes through its parts in one order, each once, and says which command
// gives what it does not hold.
func TestPageOrder(t *testing.T) {
	var page bytes.Buffer
	if err := report.HTML(&page, withTraces(t, eval.LeaveSession), meta); err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, m := range regexp.MustCompile(`<section id="([a-z]+)">`).FindAllStringSubmatch(page.String(), -1) {
		got = append(got, m[1])
	}
	if want := "table around where mixed heights depends certainty learning cost rigs worst finder data made"; strings.Join(got, " ") != want {
		t.Errorf("parts %v, want %s", got, want)
	}
	for _, id := range got {
		if !strings.Contains(page.String(), `<a href="#`+id+`">`) {
			t.Errorf("nothing leads to part %s", id)
		}
	}
	if n := strings.Count(regexp.MustCompile(`(?s)<ol class="answer">.*?</ol>`).FindString(page.String()), "<li>"); n != 3 {
		t.Errorf("the answer has %d sentences, want 3", n)
	}
	for _, want := range []string{"strikerose compare --learning", "strikerose compare --rig-to-rig"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}
