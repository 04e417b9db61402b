package report

import (
	"fmt"
	"math"
	"strconv"

	"strikerose/eval"
)

// times is how many times its bound an error is: with a digit where small,
// "-" where either is not known.
func times(err, bound eval.Figure) string {
	ratio := err.Value / bound.Value
	if !err.Known() || !bound.Known() || !(bound.Value > 0) || math.IsInf(ratio, 0) {
		return "-"
	}
	if ratio < 9.95 {
		return fmt.Sprintf("%.1f", ratio)
	}
	return fmt.Sprintf("%.0f", ratio)
}

// distanceWords says beside a mean error how far it is from its bound with
// model noise; "" where there is none.
func distanceWords(g eval.Group, measure string, err eval.Figure) string {
	_, model := g.Least(measure)
	t := times(err, model)
	if t == "-" {
		return ""
	}
	return t + " × bound"
}

// boundTable writes the least mean errors possible, and how many times them
// each detector errs.
func (t *textWriter) boundTable(g eval.Group) {
	if g.Bound == nil {
		return
	}
	bearingSensor, bearingModel := g.Least(eval.BearingMAE)
	heightSensor, heightModel := g.Least(eval.HeightMAE)
	t.line("")
	t.line("%*s%-31s%s", nameWidth+2, "", "bearing, times its bound by", "height, times its bound by")
	t.line("%*s%13s%15s%16s%15s", nameWidth, "", "sensor", "model noise", "sensor", "model noise")
	t.line("%-*s%13s%15s%16s%15s", nameWidth, "bound", least(bearingSensor, 1, "deg"), least(bearingModel, 1, "deg"), least(heightSensor, 100, "cm"), least(heightModel, 100, "cm"))
	for _, row := range g.Rows {
		b, h := row.Figure(eval.BearingMAE), row.Figure(eval.HeightMAE)
		t.line("%s%13s%15s%16s%15s", t.name(row.Detector), times(b, bearingSensor), times(b, bearingModel), times(h, heightSensor), times(h, heightModel))
	}
}

func least(f eval.Figure, scale float64, unit string) string {
	if !f.Known() {
		return "-"
	}
	return leastNumber(f, scale) + " " + unit
}

// leastNumber writes a bound with two digits; nothing where there is none.
func leastNumber(f eval.Figure, scale float64) string {
	if !f.Known() {
		return ""
	}
	return twoDigits(scale * f.Value)
}

// twoDigits writes a number with two digits that count, as 0.20 and 1.6, and
// larger ones whole.
func twoDigits(x float64) string {
	if x == 0 {
		return "0"
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 1, 64), 64) // as 0.0996 becomes 0.10
	return strconv.FormatFloat(x, 'f', max(0, 1-int(math.Floor(math.Log10(math.Abs(rounded))))), 64)
}

// boundNote says what the bounds are; "" where there are none.
func boundNote(c *eval.Comparison) string {
	any := false
	for _, g := range c.Groups {
		any = any || g.Bound != nil
	}
	if !any {
		return ""
	}
	return "Bound: the least mean error of any detector without bias (Cramér-Rao), for a usual strike at each true height: by the sensor's noise alone, and with model noise that stands for flexing and ringing as found on simulated recordings. The first is a limit of the sensor alone, which no real bag lets a detector come near; the second is what is worth working toward. Where it is wide, a detector that leans on where strikes usually land may err less."
}
