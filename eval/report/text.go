package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"strikerose/eval"
)

// Width is how many columns a terminal has to have for Text.
const Width = 80

const nameWidth = 17

// Text writes the comparison as tables for a terminal, at most 80 columns
// wide: first the main measures with their intervals, then the rest of the
// measures, then mean errors by band and kind, then the finder, then the notes
// that the numbers need.
func Text(w io.Writer, c *eval.Comparison) error {
	t := &textWriter{c: c}
	t.wrap(splitSentence(c), "")
	for _, v := range verdicts(c) {
		t.wrap(v, "")
	}
	for _, g := range c.Groups {
		if g.Band == "" && g.Kind == "" {
			t.mainTable(g)
			t.moreTable(g)
			t.boundTable(g)
			t.choiceTable(g)
		}
	}
	for _, rig := range rigsOf(c) {
		t.breakdown(rig, eval.BearingMAE, "bearing error, mean, deg", oneDecimal(1))
		t.breakdown(rig, eval.HeightMAE, "height error, mean, cm", oneDecimal(100))
		t.breakdown(rig, eval.Faces95, "faces told apart at 95 %", finely)
		t.breakdown(rig, eval.Bands95, "bands told apart at 95 %", finely)
	}
	t.certaintyTables()
	t.sensitivityTables()
	t.driverTables()
	t.learningTables()
	t.rigToRigTable()
	t.detection()
	t.line("")
	for _, note := range notes(c) {
		t.wrap(note, "- ")
	}
	_, err := io.WriteString(w, t.b.String())
	return err
}

type textWriter struct {
	c *eval.Comparison
	b strings.Builder
}

func (t *textWriter) line(format string, args ...any) {
	t.b.WriteString(strings.TrimRight(fmt.Sprintf(format, args...), " ") + "\n")
}

// wrap writes words in lines no longer than Width.
func (t *textWriter) wrap(text, bullet string) { t.b.WriteString(Wrap(text, bullet)) }

// Wrap breaks words into lines no longer than Width, the first of which starts
// with a bullet and the others with as many blanks. A word longer than that
// stays whole.
func Wrap(text, bullet string) string {
	var b strings.Builder
	line := bullet
	indent := strings.Repeat(" ", len(bullet))
	empty := true
	end := func() { b.WriteString(strings.TrimRight(line, " ") + "\n") }
	for _, word := range strings.Fields(text) {
		if !empty && len([]rune(line))+1+len([]rune(word)) > Width {
			end()
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	end()
	return b.String()
}

// name writes a detector's name, on a line of its own when it is too long.
func (t *textWriter) name(name string) string {
	if len([]rune(name)) > nameWidth-1 {
		t.line("%s", name)
		return strings.Repeat(" ", nameWidth)
	}
	return fmt.Sprintf("%-*s", nameWidth, name)
}

func (t *textWriter) mainTable(g eval.Group) {
	t.line("")
	t.line("%s: %s", groupTitle(g), countsOf(g))
	level := fmt.Sprintf("[%.3g %%]", 100*t.c.Level)
	t.line("%*s%-25s%6s%5s   %-18s%4s", nameWidth, "", " bearing error, deg", "flips", "face", "height error, cm", "band")
	t.line("%*s%6s %-12s%6s%6s%5s %6s %-12s%4s", nameWidth, "", "mean", level, "95th", "%", "%", "mean", level, "%")
	for _, row := range g.Rows {
		b, h := row.Figure(eval.BearingMAE), row.Figure(eval.HeightMAE)
		t.line("%s%1s%5s %-12s%6s%6s%5s %1s%5s %-12s%4s", t.name(row.Detector),
			g.Mark(row.Detector, eval.BearingMAE), number(b.Value, 1, 1), interval(b, 1, 1),
			number(row.Figure("bearing_p95_deg").Value, 1, 1),
			number(row.Figure("flip_share").Value, 100, 1), number(row.Figure("right_face_share").Value, 100, 0),
			g.Mark(row.Detector, eval.HeightMAE), number(h.Value, 100, 1), interval(h, 100, 1),
			number(row.Figure("right_band_share").Value, 100, 0))
	}
}

// moreColumns are the measures beside the main ones.
func moreColumns() []struct {
	head, unit, measure string
	scale               float64
	digits, width       int
} {
	return []struct {
		head, unit, measure string
		scale               float64
		digits, width       int
	}{
		{"median", "deg", "bearing_median_deg", 1, 1, 9},
		{"bias", "deg", "bearing_bias_deg", 1, 1, 7},
		{"CRPS", "deg", "bearing_crps_deg", 1, 1, 6},
		{"in 90", "%", "bearing_cover90_share", 100, 0, 6},
		{"half", "deg", "bearing_half90_deg", 1, 1, 6},
		{"RMS", "cm", "height_rms_m", 100, 1, 9},
		{"bias", "cm", "height_bias_m", 100, 1, 7},
		{"in 90", "%", "height_cover90_share", 100, 0, 6},
		{"half", "cm", "height_half90_m", 100, 1, 6},
	}
}

func (t *textWriter) moreTable(g eval.Group) {
	t.line("")
	t.line("%*s%-34s%s", nameWidth+3, "", "bearing", "height")
	head, units := strings.Repeat(" ", nameWidth), strings.Repeat(" ", nameWidth)
	for _, col := range moreColumns() {
		head += fmt.Sprintf("%*s", col.width, col.head)
		units += fmt.Sprintf("%*s", col.width, col.unit)
	}
	t.line("%s", head)
	t.line("%s", units)
	for _, row := range g.Rows {
		line := t.name(row.Detector)
		for _, col := range moreColumns() {
			line += fmt.Sprintf("%*s", col.width, number(row.Figure(col.measure).Value, col.scale, col.digits))
		}
		t.line("%s", line)
	}
}

// oneDecimal writes a figure times scale with one decimal.
func oneDecimal(scale float64) func(eval.Figure) string {
	return func(f eval.Figure) string { return number(f.Value, scale, 1) }
}

// breakdown writes a measure by band and kind of one rig.
func (t *textWriter) breakdown(rig, measure, title string, cellOf func(eval.Figure) string) {
	var groups []eval.Group
	for _, g := range t.c.Groups {
		if g.Rig == rig && (g.Band != "" || g.Kind != "") && anyKnown(g, measure) {
			groups = append(groups, g)
		}
	}
	const perTable = 7
	for len(groups) > 0 {
		part := groups[:min(perTable, len(groups))]
		groups = groups[len(part):]
		t.line("")
		if rig != "" {
			t.line("%s: %s", rig, title)
		} else {
			t.line("%s", title)
		}
		head, counts := strings.Repeat(" ", nameWidth), fmt.Sprintf("%-*s", nameWidth, "strikes")
		for _, g := range part {
			head += fmt.Sprintf(" %8s", clip(g.Band+g.Kind, 8))
			counts += fmt.Sprintf(" %8d", g.Strikes)
		}
		t.line("%s", head)
		t.line("%s", counts)
		for _, d := range t.c.Detectors {
			line, any := "", false
			for _, g := range part {
				cell := "-"
				if f := rowOf(g, d.Name).Figure(measure); f.Known() {
					cell, any = g.Mark(d.Name, measure)+cellOf(f), true
				}
				line += fmt.Sprintf(" %8s", cell)
			}
			if any {
				t.line("%s%s", t.name(d.Name), line)
			}
		}
	}
}

func clip(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n])
	}
	return s
}

func (t *textWriter) detection() {
	d := t.c.Detection
	if d == nil {
		return
	}
	t.line("")
	t.line("finder against complete timed truth: %d of %d strikes in %s, %d found", d.Matched, d.Truth, plural(d.Sessions, "session"), d.Found)
	for _, r := range detectionRows(d) {
		t.line("  %-34s%8s %-4s %s", r.Title, number(r.Figure.Value, r.Scale, r.Digits), r.Unit, interval(r.Figure, r.Scale, r.Digits))
	}
}

// number writes a value times scale, or "-" where it is not known.
func number(v, scale float64, digits int) string {
	if math.IsNaN(v) {
		return "-"
	}
	s := fmt.Sprintf("%.*f", digits, v*scale)
	if strings.Trim(s, "-0.") == "" { // no negative zero
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// interval writes an interval, or nothing where there is none; without
// decimals when an end has three digits before them, but for 100, as of a share.
func interval(f eval.Figure, scale float64, digits int) string {
	if !f.HasInterval() {
		return ""
	}
	if max(math.Abs(f.Low), math.Abs(f.High))*scale >= 100.05 && digits == 1 {
		digits = 0
	}
	return "[" + number(f.Low, scale, digits) + ", " + number(f.High, scale, digits) + "]"
}
