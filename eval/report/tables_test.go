package report_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/eval/report"
	"strikerose/models"
)

// pageTable is a table of a page: its class, its caption, and the words of each
// cell of its body and foot, the small ones below the others as further words.
type pageTable struct {
	class, caption string
	rows           [][][]string
}

// tablesOf reads all tables of a page.
func tablesOf(t *testing.T, page string) []pageTable {
	t.Helper()
	page = strings.Replace(page, "<!DOCTYPE html>", "", 1)
	page = strings.ReplaceAll(page, "&nbsp;", " ")
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict, d.AutoClose = false, []string{"meta"}
	var out []pageTable
	var within []string // names of the elements around
	in := func(name string) bool {
		for _, n := range within {
			if n == name {
				return true
			}
		}
		return false
	}
	for {
		token, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := token.(type) {
		case xml.StartElement:
			within = append(within, x.Name.Local)
			switch {
			case x.Name.Local == "table":
				out = append(out, pageTable{})
				for _, a := range x.Attr {
					if a.Name.Local == "class" {
						out[len(out)-1].class = a.Value
					}
				}
			case !in("table") || in("thead") && x.Name.Local != "caption":
			case x.Name.Local == "tr":
				out[len(out)-1].rows = append(out[len(out)-1].rows, nil)
			case x.Name.Local == "td" || x.Name.Local == "th":
				row := &out[len(out)-1].rows[len(out[len(out)-1].rows)-1]
				*row = append(*row, []string{""})
			case x.Name.Local == "small":
				row := out[len(out)-1].rows[len(out[len(out)-1].rows)-1]
				row[len(row)-1] = append(row[len(row)-1], "")
			}
		case xml.EndElement:
			within = within[:len(within)-1]
		case xml.CharData:
			switch {
			case !in("table"):
			case in("caption"):
				out[len(out)-1].caption += string(x)
			case (in("td") || in("th")) && !in("thead"):
				row := out[len(out)-1].rows[len(out[len(out)-1].rows)-1]
				cell := row[len(row)-1]
				cell[len(cell)-1] = strings.TrimSpace(cell[len(cell)-1] + string(x))
			}
		}
	}
}

// shown is how a figure of the JSON is to be seen in a table.
type shown struct {
	scale    float64
	digits   int
	interval bool
}

// sees fails where a cell does not show a figure of the JSON: its value and its
// interval, rounded as the page rounds, and nothing else.
func sees(t *testing.T, where string, cell []string, f eval.Figure, as shown) {
	t.Helper()
	want := "-"
	if f.Known() {
		want = rounded(as.scale*f.Value, as.digits)
	}
	if got := strings.TrimLeft(cell[0], "*~!x"); got != want {
		t.Errorf("%s: the page says %q, the JSON %v: want %q", where, cell[0], f.Value, want)
	}
	if !as.interval || !f.HasInterval() {
		return
	}
	digits := as.digits
	if as.scale*math.Max(math.Abs(f.Low), math.Abs(f.High)) >= 100.05 && digits == 1 {
		digits = 0
	}
	want = "[" + rounded(as.scale*f.Low, digits) + ", " + rounded(as.scale*f.High, digits) + "]"
	if len(cell) < 2 || cell[1] != want {
		t.Errorf("%s: the page says %q, the JSON %v to %v: want %q", where, cell, f.Low, f.High, want)
	}
}

// counts fails where a cell does not show a number of parts told apart.
func counts(t *testing.T, where string, cell []string, f eval.Figure) {
	t.Helper()
	want := "-"
	switch {
	case f.Known() && f.Value < 2:
		want = "<2"
	case f.Known():
		want = fmt.Sprintf("%.0f", f.Value)
	}
	if got := strings.TrimSuffix(cell[0], "?"); got != want {
		t.Errorf("%s: the page says %q, the JSON %v: want %q", where, cell[0], f.Value, want)
	}
}

// rounded writes a number without a negative zero.
func rounded(v float64, digits int) string {
	s := fmt.Sprintf("%.*f", digits, v)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// Every number in the page's tables is that of the JSON.
func TestPageSaysWhatTheJSONSays(t *testing.T) {
	c := withTraces(t, eval.LeaveSession)
	d := evaltest.Data(twoRigs(), 1)
	rigs, skipped, err := eval.RigToRig(t.Context(), d, evaltest.Families(), eval.Options{Seed: 1, Resamples: 100})
	if err != nil {
		t.Fatal(err)
	}
	c.AddRigToRig(rigs, skipped)
	if c.Learning, _, err = eval.Learn(t.Context(), d, []models.Family{evaltest.Families()[2]}, eval.LearningOptions{Seed: 1, Resamples: 100}); err != nil {
		t.Fatal(err)
	}
	var page, data bytes.Buffer
	if err := report.HTML(&page, c, meta); err != nil {
		t.Fatal(err)
	}
	if err := report.JSON(&data, c, meta); err != nil {
		t.Fatal(err)
	}
	var read struct{ Comparison eval.Comparison }
	if err := json.Unmarshal(data.Bytes(), &read); err != nil {
		t.Fatal(err)
	}
	said := read.Comparison
	tables := tablesOf(t, page.String())
	next := func(has func(pageTable) bool) pageTable {
		for len(tables) > 0 {
			first := tables[0]
			tables = tables[1:]
			if has(first) {
				return first
			}
		}
		t.Fatal("a table is missing in the page")
		return pageTable{}
	}
	several := len(said.RigToRig) > 0

	main := []struct {
		measure string
		as      shown
	}{
		{eval.BearingMAE, shown{1, 1, true}}, {"bearing_median_deg", shown{1, 1, false}}, {"bearing_p95_deg", shown{1, 1, false}}, {"bearing_bias_deg", shown{1, 1, false}},
		{"flip_share", shown{100, 1, true}}, {"right_face_share", shown{100, 1, true}}, {"bearing_cover90_share", shown{100, 0, false}},
		{eval.HeightMAE, shown{100, 1, true}}, {"height_rms_m", shown{100, 1, false}}, {"height_bias_m", shown{100, 1, false}}, {"right_band_share", shown{100, 1, true}}, {"height_cover90_share", shown{100, 0, false}},
	}
	for _, g := range said.Groups {
		if g.Band != "" || g.Kind != "" {
			continue
		}
		table := next(func(p pageTable) bool { return p.class == "main" })
		if !strings.Contains(table.caption, fmt.Sprintf("%d strikes", g.Strikes)) || len(table.rows) != len(g.Rows)+2 {
			t.Fatalf("rig %q: caption %q, %d rows, want %d strikes and %d detectors with two bounds", g.Rig, table.caption, len(table.rows), g.Strikes, len(g.Rows))
		}
		for k, row := range g.Rows {
			cells := table.rows[k]
			if cells[0][0] != row.Detector || len(cells) != 1+len(main) {
				t.Fatalf("rig %q: a row of %d cells for %q, want %d for %s", g.Rig, len(cells), cells[0][0], 1+len(main), row.Detector)
			}
			for j, m := range main {
				where := fmt.Sprintf("rig %q, %s of %s", g.Rig, m.measure, row.Detector)
				sees(t, where, cells[j+1], row.Figure(m.measure), m.as)
				if mark := g.Mark(row.Detector, m.measure); !strings.HasPrefix(cells[j+1][0], mark) || mark == "" && strings.ContainsAny(cells[j+1][0], "*~") {
					t.Errorf("%s: mark in %q, want %q", where, cells[j+1][0], mark)
				}
				if _, model := g.Least(m.measure); model.Known() && row.Figure(m.measure).Known() {
					times := row.Figure(m.measure).Value / model.Value
					if words := cells[j+1][len(cells[j+1])-1]; words != fmt.Sprintf("%.1f × bound", times) && words != fmt.Sprintf("%.0f × bound", times) {
						t.Errorf("%s: %q, want %g times its bound", where, words, times)
					}
				}
			}
		}
		for k, bound := range []map[string]eval.Figure{g.Bound.Model, g.Bound.Sensor} {
			cells := table.rows[len(g.Rows)+k]
			for j, m := range main {
				want := ""
				if f, known := bound[m.measure]; known {
					want = strings.TrimSuffix(fmt.Sprintf("%#.2g", m.as.scale*f.Value), ".")
				}
				if cells[j+1][0] != want {
					t.Errorf("rig %q: bound %d of %s: the page says %q, want %q", g.Rig, k, m.measure, cells[j+1][0], want)
				}
			}
		}
	}

	for _, s := range said.Sensitivity {
		table := next(func(p pageTable) bool { return strings.HasPrefix(p.caption, "Mean errors by what") })
		row := 0
		for _, f := range s.Factors {
			for _, l := range f.Levels {
				cells := table.rows[row]
				row++
				if cells[1][0] != l.Name || cells[2][0] != fmt.Sprint(l.Strikes) {
					t.Errorf("level %s of %d strikes: the page says %v", l.Name, l.Strikes, cells)
				}
				sees(t, f.Name+" "+l.Name, cells[3], l.Bearing, shown{1, 1, true})
				sees(t, f.Name+" "+l.Name, cells[4], l.Height, shown{100, 1, true})
			}
		}
	}

	for _, rig := range said.RigToRig {
		for _, b := range []struct{ measure, caption string }{{eval.BearingMAE, "Mean bearing error"}, {eval.HeightMAE, "Mean height error"}, {eval.Faces95, "Equal faces"}, {eval.Bands95, "Equal bands"}} {
			table := next(func(p pageTable) bool { return strings.HasPrefix(p.caption, b.caption) })
			var groups []eval.Group
			for _, g := range said.Groups {
				if g.Rig == rig.Rig && (g.Band != "" || g.Kind != "") {
					groups = append(groups, g)
				}
			}
			for _, cells := range table.rows {
				for j, g := range groups {
					for _, row := range g.Rows {
						if row.Detector != cells[0][0] {
							continue
						}
						where, f := rig.Rig+" "+g.Band+g.Kind+" "+row.Detector, row.Figure(b.measure)
						switch b.measure {
						case eval.BearingMAE:
							sees(t, where, cells[j+1], f, shown{1, 1, true})
						case eval.HeightMAE:
							sees(t, where, cells[j+1], f, shown{100, 1, true})
						default:
							counts(t, where, cells[j+1], f)
						}
					}
				}
			}
		}
	}

	for _, l := range said.Learning {
		table := next(func(p pageTable) bool { return strings.HasPrefix(p.caption, "Errors by labelled strikes") })
		for k, p := range l.Points {
			if got := table.rows[0][k+1][0]; got != fmt.Sprint(p.Labels) {
				t.Errorf("learning: %s labels, want %d", got, p.Labels)
			}
			where := fmt.Sprintf("%d labels on rig %s", p.Labels, l.Rig)
			sees(t, where, table.rows[1][k+1], p.Bearing, shown{1, 1, false})
			sees(t, where, table.rows[2][k+1], p.Height, shown{100, 1, false})
			counts(t, where, table.rows[3][k+1], p.Faces)
			counts(t, where, table.rows[4][k+1], p.Bands)
		}
	}

	for _, g := range said.Groups {
		if g.Choice == nil || several && g.Rig == "" {
			continue
		}
		table := next(func(p pageTable) bool { return p.class == "costs" })
		for k, cost := range g.Choice.Costs {
			cells := table.rows[k]
			sees(t, "cost of "+cost.Detector, cells[1], g.Rows[k].Figure(eval.BearingMAE), shown{1, 1, true})
			sees(t, "cost of "+cost.Detector, cells[2], g.Rows[k].Figure(eval.HeightMAE), shown{100, 1, true})
			counts(t, "cost of "+cost.Detector, cells[7], g.Rows[k].Figure(eval.Faces95))
			counts(t, "cost of "+cost.Detector, cells[8], g.Rows[k].Figure(eval.Bands95))
			for j, want := range []string{fmt.Sprint(cost.Macs), fmt.Sprint(cost.Numbers), fmt.Sprint(cost.Bytes), fmt.Sprintf("%.0f", cost.WaitMs)} {
				if cells[3+j][0] != want {
					t.Errorf("cost of %s: the page says %q, want %q", cost.Detector, cells[3+j][0], want)
				}
			}
		}
	}

	table := next(func(p pageTable) bool { return strings.HasPrefix(p.caption, "Mean errors on a rig left out") })
	seen := 0
	for _, cells := range table.rows {
		for j, l := range said.RigToRig {
			for _, row := range l.Group.Rows {
				if row.Detector == cells[0][0] {
					seen++
					sees(t, "without rig "+l.Rig+" "+row.Detector, cells[1+2*j], row.Figure(eval.BearingMAE), shown{1, 1, true})
					sees(t, "without rig "+l.Rig+" "+row.Detector, cells[2+2*j], row.Figure(eval.HeightMAE), shown{100, 1, true})
				}
			}
		}
	}

	for _, l := range said.RigToRig {
		seen -= len(l.Group.Rows)
	}
	if seen != 0 || len(said.RigToRig) != 2 {
		t.Errorf("%d rigs left out, %d of their rows too few in the page", len(said.RigToRig), -seen)
	}

	table = next(func(p pageTable) bool { return strings.HasPrefix(p.caption, "Sessions,") })
	for k, s := range said.Sessions {
		want := []string{s.Session, s.Rig, s.Striker, fmt.Sprint(s.Found), fmt.Sprint(s.Scored), fmt.Sprint(s.Trained), fmt.Sprint(s.Unlabelled), fmt.Sprint(s.NotStrikes), fmt.Sprint(s.OrphanLabels)}
		for j, w := range want {
			if got := table.rows[k][j][0]; got != w {
				t.Errorf("session %s: the page says %q, want %q", s.Session, got, w)
			}
		}
	}

	if len(said.Worst) != 10 {
		t.Errorf("%d worst strikes, want 10", len(said.Worst))
	}
	for _, w := range said.Worst {
		title := fmt.Sprintf("<h3>%s, %.3f s</h3>", w.Session, w.OnsetS)
		_, after, found := strings.Cut(page.String(), title)
		want := strings.Replace(fmt.Sprintf("off by %.1f° around", w.BearingErrDeg), "-", "−", 1)
		if !found || !strings.Contains(strings.SplitN(after, "</p>", 2)[0], want) || !strings.Contains(after, fmt.Sprintf("%.1f times the usual error", w.TimesUsual)) {
			t.Errorf("the page does not say %q of %s", want, title)
		}
	}
}
