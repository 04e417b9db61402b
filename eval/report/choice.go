package report

import (
	"fmt"
	"slices"
	"strings"

	"strikerose/eval"
)

// verdicts are what the comparison answers to what was asked: of several rigs
// each has its own, and none stands for all, since a board hangs in one bag.
func verdicts(c *eval.Comparison) []string {
	var out []string
	for _, g := range c.Groups {
		several := len(rigsOf(c)) > 1
		if g.Choice == nil || g.Choice.Verdict == nil || several && g.Rig == "" {
			continue
		}
		v := g.Choice.Verdict
		head := "Verdict"
		if several {
			head += ", " + groupTitle(g)
		}
		out = append(out, sentence(head+": "+v.Sentence))
		for _, h := range v.Help {
			out = append(out, sentence("What would help: "+h))
		}
	}
	return out
}

// finely writes a number of parts told apart: "-" where not known, "<2" where
// not even two, "?" behind one that rests on few strikes.
func finely(f eval.Figure) string {
	switch {
	case !f.Known():
		return "-"
	case f.Value < 2:
		return "<2"
	}
	s := number(f.Value, 1, 0)
	if f.N < eval.LeastToSupport {
		s += "?"
	}
	return s
}

// partsInterval is the interval of a number of parts, where it says anything.
func partsInterval(f eval.Figure) string {
	if f.High < 2 {
		return ""
	}
	return interval(f, 1, 0)
}

// size writes a number of bytes: "640", "12k".
func size(n int) string {
	if n < 10000 {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%dk", (n+512)/1024)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// choiceTable writes what each detector costs and how finely it tells.
func (t *textWriter) choiceTable(g eval.Group) {
	if g.Choice == nil {
		return
	}
	t.line("")
	t.line("%*s%-12s%-27s%s", nameWidth+1, "", "mean error", "cost of an answer", "told apart at 95 %")
	t.line("%*s%6s%6s %7s%6s%5s %-6s%5s %-8s%4s %s", nameWidth, "", "deg", "cm", "operat.", "bytes", "ms", "board", "faces", "", "bands", "")
	for k, cost := range g.Choice.Costs {
		row := g.Rows[k]
		mark := " "
		if cost.BeatenBy != "" {
			mark = markBeaten
		}
		faces, bands := row.Figure(eval.Faces95), row.Figure(eval.Bands95)
		t.line("%s%1s%5s%6s %7d%6s%5.0f %-6s%5s %-8s%4s %s", t.name(cost.Detector), mark,
			number(row.Figure(eval.BearingMAE).Value, 1, 1), number(row.Figure(eval.HeightMAE).Value, 100, 1),
			cost.Macs, size(cost.Bytes), cost.WaitMs, yes(cost.Board), finely(faces), partsInterval(faces), finely(bands), partsInterval(bands))
	}
	t.measured(g)
}

// markBeaten stands before a detector that is not worth its cost.
const markBeaten = "x"

// measured writes what was measured on boards.
func (t *textWriter) measured(g eval.Group) {
	for _, cost := range g.Choice.Costs {
		if m := cost.Measured; m != nil {
			t.wrap(fmt.Sprintf("%s, measured: %s", cost.Detector, measuredWords(m)), "  ")
		}
	}
}

func measuredWords(m *eval.Measured) string {
	var parts []string
	add := func(n *int, what string) {
		if n != nil {
			parts = append(parts, fmt.Sprintf("%d %s", *n, what))
		}
	}
	add(m.FlashBytes, "bytes of flash")
	add(m.RAMBytes, "bytes of RAM")
	add(m.Work, m.Unit+" for the hardest sample")
	return strings.TrimSpace(strings.Join(parts, ", ") + " on " + m.Target)
}

// costRows is the table of costs of a page, and who is beaten by whom.
func costRows(g eval.Group) (rows []htmlRow, beaten string) {
	if g.Choice == nil {
		return nil, ""
	}
	for k, cost := range g.Choice.Costs {
		row := g.Rows[k]
		b, h := row.Figure(eval.BearingMAE), row.Figure(eval.HeightMAE)
		faces, bands := row.Figure(eval.Faces95), row.Figure(eval.Bands95)
		mark, measured := "", ""
		if cost.BeatenBy != "" {
			mark = markBeaten
		}
		if cost.Measured != nil {
			measured = measuredWords(cost.Measured)
		}
		rows = append(rows, htmlRow{Name: cost.Detector, Cells: []htmlCell{
			{Mark: mark, Value: number(b.Value, 1, 1), Interval: interval(b, 1, 1)},
			{Value: number(h.Value, 100, 1), Interval: interval(h, 100, 1)},
			{Value: fmt.Sprint(cost.Macs)}, {Value: fmt.Sprint(cost.Numbers)}, {Value: fmt.Sprint(cost.Bytes)}, {Value: number(cost.WaitMs, 1, 0)},
			{Value: finely(faces), Interval: partsInterval(faces)}, {Value: finely(bands), Interval: partsInterval(bands)},
			{Value: yes(cost.Board), Interval: cost.NotBoard, Distance: measured, Words: true},
		}})
	}
	return rows, beatenWords(g)
}

// cellOf and cellInterval write a measure by band or kind; counts as counts.
func cellOf(measure string, f eval.Figure, scale float64) string {
	if digitsOf(measure) == 0 {
		return finely(f)
	}
	return number(f.Value, scale, 1)
}

func cellInterval(measure string, f eval.Figure, scale float64) string {
	if digitsOf(measure) == 0 {
		return partsInterval(f)
	}
	return interval(f, scale, 1)
}

func digitsOf(measure string) int {
	if measure == eval.Faces95 || measure == eval.Bands95 {
		return 0
	}
	return 1
}

// choiceNotes say what the table of costs means, and who is beaten by whom.
func choiceNotes(c *eval.Comparison) []string {
	var out []string
	for _, g := range c.Groups {
		if g.Choice == nil {
			continue
		}
		if len(out) == 0 {
			out = append(out, fmt.Sprintf("Cost: multiply-accumulate operations of one answer and bytes of the numbers stored (4 each), both after the features, and the wait after the onset. Told apart at 95 %%: the largest number of equal faces, or bands, with edges anywhere, of which 95 %% of these strikes would be put in the right one; <2 where not even two, ? from fewer than %d strikes, at most %d faces and %d bands.", eval.LeastToSupport, eval.MostFaces, eval.MostBands))
		}
		if beaten := beatenWords(g); beaten != "" {
			where := ""
			if len(rigsOf(c)) > 1 {
				where = ", " + groupTitle(g)
			}
			out = append(out, fmt.Sprintf("%s errs more than another that costs no more%s: %s.", markBeaten, where, beaten))
		}
	}
	return out
}

// beatenWords names the beaten by who beats them.
func beatenWords(g eval.Group) string {
	var winners []string
	losers := map[string][]string{}
	for _, cost := range g.Choice.Costs {
		if by := cost.BeatenBy; by != "" {
			if !slices.Contains(winners, by) {
				winners = append(winners, by)
			}
			losers[by] = append(losers[by], cost.Detector)
		}
	}
	var parts []string
	for _, by := range winners {
		parts = append(parts, fmt.Sprintf("%s by %s", strings.Join(losers[by], ", "), by))
	}
	return strings.Join(parts, "; ")
}
