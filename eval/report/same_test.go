package report_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/eval/report"
)

// drawing is a figure's file and its numbers.
type drawing struct {
	svg  string
	rows [][]string
}

func filesOf(t *testing.T, c *eval.Comparison, choice report.Choice) map[string]drawing {
	t.Helper()
	out := map[string]drawing{}
	for _, f := range report.Figures(c, choice) {
		var svg, numbers bytes.Buffer
		if err := f.SVG(&svg); err != nil {
			t.Fatal(err)
		}
		if err := f.CSV(&numbers); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&numbers).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		out[f.Name] = drawing{svg.String(), rows}
	}
	return out
}

// Each drawing of the page is a figure's file, and each figure's file is in the
// page, whatever detectors are chosen; only confusions are tables there.
func TestPageHoldsTheFigures(t *testing.T) {
	families := evaltest.Families()
	for _, f := range evaltest.Families() {
		f.Name += "-again"
		families = append(families, f)
	}
	c, err := eval.Compare(t.Context(), evaltest.Data(oneRig(), 1), families, eval.Options{Seed: 1, Resamples: 100})
	if err != nil {
		t.Fatal(err)
	}
	for _, choice := range []report.Choice{nil, {report.DrawAll}, {"learner"}} {
		var page bytes.Buffer
		m := meta
		m.Draw = choice
		if err := report.HTML(&page, c, m); err != nil {
			t.Fatal(err)
		}
		inPage := map[string]bool{}
		for _, svg := range regexp.MustCompile(`(?s)<svg.*?</svg>`).FindAllString(page.String(), -1) {
			inPage[svg] = true
		}
		n := 0
		own := regexp.MustCompile(`(?s) xmlns="[^"]*">\n<style>.*?</style>\n`)
		for name, d := range filesOf(t, c, choice) {
			if strings.HasPrefix(name, "confusion-") {
				continue
			}
			n++
			if !inPage[strings.TrimSpace(own.ReplaceAllString(d.svg, ">"))] {
				t.Errorf("choice %v: figure %s is not in the page as it is in its file", choice, name)
			}
		}
		if n != len(inPage) {
			t.Errorf("choice %v: %d drawings in the page, %d figures", choice, len(inPage), n)
		}
		folded := strings.Count(page.String(), "<summary>all other detectors: ")
		if wantsFolds := slices.Contains(choice, report.DrawAll); (folded == 5) != wantsFolds {
			t.Errorf("choice %v: %d parts are folded", choice, folded)
		}
		if slices.Contains(choice, "learner") && strings.Contains(page.String(), "Rose of the bearing errors of parrot") {
			t.Errorf("choice %v: another detector is drawn", choice)
		}
	}
}

// marksOf returns the middles of the small shapes of a drawing, in points.
func marksOf(t *testing.T, svg string) (x, y []float64) {
	t.Helper()
	for _, path := range regexp.MustCompile(`<path d="([^"A]+[zZ])" style="fill:var\(--(?:right|wrong|flip)\)" />`).FindAllStringSubmatch(svg, -1) {
		var start [2]float64
		for _, shape := range regexp.MustCompile(`[^zZ]+`).FindAllString(path[1], -1) {
			var numbers []float64
			for _, n := range regexp.MustCompile(`-?\d*\.?\d+`).FindAllString(shape, -1) {
				v, err := strconv.ParseFloat(n, 64)
				if err != nil {
					t.Fatal(err)
				}
				numbers = append(numbers, v)
			}
			var sum, at [2]float64
			fromCorner := strings.HasPrefix(shape, "m") // and so do all its corners
			for k := 0; k < len(numbers); k += 2 {
				for axis := range at {
					switch {
					case fromCorner && k == 0:
						start[axis] += numbers[axis]
						at[axis] = start[axis]
					case fromCorner:
						at[axis] += numbers[k+axis]
					default:
						at[axis] = numbers[k+axis]
					}
					sum[axis] += at[axis]
				}
			}
			corners := float64(len(numbers) / 2)
			x, y = append(x, sum[0]/corners), append(y, sum[1]/corners)
		}
	}
	return x, y
}

// The numbers of a figure are those that it draws: as many marks as rows, and, on
// a linear axis, each where its number says.
func TestNumbersAreThoseDrawn(t *testing.T) {
	all := filesOf(t, withTraces(t, eval.LeaveRig), nil)
	looked := map[string]int{}
	for name, d := range all {
		rows := d.rows[1:]
		column := func(k int) []float64 {
			var out []float64
			for _, r := range rows {
				v, err := strconv.ParseFloat(r[k], 64)
				if err != nil {
					t.Fatalf("figure %s: %v", name, err)
				}
				out = append(out, v)
			}
			return out
		}
		kind, _, _ := strings.Cut(name, "-")
		switch kind {
		case "heights", "error":
			x, y := marksOf(t, d.svg)
			if len(x) != len(rows) {
				t.Errorf("figure %s: %d marks, %d rows", name, len(x), len(rows))
				continue
			}
			if kind == "heights" {
				onLine(t, name, x, column(2))
			} else if strings.HasPrefix(name, "error-by-height") {
				onLine(t, name, y, column(2))
			}
		case "rose":
			share, petals := 0.0, 0
			for _, s := range column(2) {
				if share += s; s > 0 {
					petals++
				}
			}
			drawn := len(regexp.MustCompile(`A[^"]*" style="fill:var\(--(right|wrong|flip)\)"`).FindAllString(d.svg, -1))
			if math.Abs(share-1) > 1e-6 || drawn != petals {
				t.Errorf("figure %s: shares make %g, %d petals are drawn and %d listed", name, share, drawn, petals)
			}
		case "confusion", "rig":
			var words, want []string
			for _, m := range regexp.MustCompile(`>([0-9]+(?:\.[0-9])?)</text>`).FindAllStringSubmatch(d.svg, -1) {
				words = append(words, m[1])
			}
			for _, r := range rows {
				if kind == "rig" {
					if r[3] == "" {
						continue
					}
					v, err := strconv.ParseFloat(r[3], 64)
					if err != nil {
						t.Fatal(err)
					}
					if strings.Contains(name, "height") {
						v *= 100
					}
					want = append(want, fmt.Sprintf("%.1f", v))
					continue
				}
				for _, cell := range r[1:] {
					if cell != "0" {
						want = append(want, cell)
					}
				}
			}
			for _, w := range want {
				at := slices.Index(words, w)
				if at < 0 {
					t.Errorf("figure %s does not show %s", name, w)
					continue
				}
				words = slices.Delete(words, at, at+1)
			}
		case "worst", "reliability", "risk":
			corners := 0
			for _, path := range regexp.MustCompile(`<path d="([^"]+)" style="fill:none;stroke:var\(--(?:right|flip)\)`).FindAllStringSubmatch(d.svg, -1) {
				corners += strings.Count(path[1], "M") + strings.Count(path[1], "L")
			}
			lines := 1
			if kind == "worst" {
				lines = len(d.rows[0]) - 1
			}
			if corners != lines*len(rows) {
				t.Errorf("figure %s: lines of %d points, want %d", name, corners, lines*len(rows))
			}
		case "cost", "depends":
			x, _ := marksOf(t, d.svg)
			if len(x) != len(rows) {
				t.Errorf("figure %s: %d marks, %d rows", name, len(x), len(rows))
			}
		default:
			continue
		}
		looked[kind]++
	}
	for _, kind := range []string{"heights", "error", "rose", "confusion", "rig", "worst", "reliability", "risk", "cost", "depends"} {
		if looked[kind] == 0 {
			t.Errorf("no figure of kind %s was looked at", kind)
		}
	}
}

// onLine fails where sorted places are not a linear function of sorted numbers to
// within a tenth of a point.
func onLine(t *testing.T, name string, places, numbers []float64) {
	t.Helper()
	slices.Sort(places)
	slices.Sort(numbers)
	last := len(places) - 1
	if last < 2 || numbers[last] == numbers[0] {
		return
	}
	slope := (places[last] - places[0]) / (numbers[last] - numbers[0])
	for k := range places {
		if want := places[0] + slope*(numbers[k]-numbers[0]); math.Abs(places[k]-want) > 0.35 {
			t.Errorf("figure %s: a mark at %g points, its number %g belongs at %.2f", name, places[k], numbers[k], want)
			return
		}
	}
}

// Page, figures and their numbers are the same bytes each time, and on one
// processor as on two.
func TestReportIsTheSameOnAnyProcessors(t *testing.T) {
	var first map[string]drawing
	var page string
	for _, processors := range []int{2, 1, 2} {
		was := runtime.GOMAXPROCS(processors)
		c := withTraces(t, eval.LeaveRig)
		got := filesOf(t, c, report.Choice{report.DrawAll})
		var b bytes.Buffer
		err := report.HTML(&b, c, meta)
		runtime.GOMAXPROCS(was)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first, page = got, b.String()
			continue
		}
		if b.String() != page || len(got) != len(first) {
			t.Errorf("on %d processors the page differs, or the number of figures: %d and %d", processors, len(got), len(first))
		}
		for name, d := range first {
			if got[name].svg != d.svg || !slices.EqualFunc(got[name].rows, d.rows, slices.Equal) {
				t.Errorf("on %d processors figure %s differs", processors, name)
			}
		}
	}
}
