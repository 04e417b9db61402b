package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/eval"
)

// traceChart draws the samples around a strike's onset in two parts: above, the
// horizontal specific force along the way that the strike went and across it;
// below, the rotation rate about the axis across, by which the bag tips away, and
// about the vertical.
type traceChart struct {
	ms     []float64
	force  [2][]float64 // along, across, m/s2
	rate   [2][]float64 // tip, twist, deg/s; nil without a gyroscope
	dashes [2][]vg.Length
}

// Traces run from so long before the onset to so long after it: what comes later
// is swing.
const (
	traceBeforeMs = 50
	traceAfterMs  = 150
)

// newTrace turns a window along the strike's true bearing: a strike there drives
// the bag to the opposite bearing. Across is 90 degrees clockwise of along.
func newTrace(w *dataset.Window, bearingDeg float64) traceChart {
	t := traceChart{dashes: [2][]vg.Length{nil, {3, 2}}}
	s, k := math.Sincos(bearing.Rad(bearingDeg + 180))
	for i := range w.A[0] {
		ms := 1000 * float64(i-w.Pre) / w.RateHz
		if ms < -traceBeforeMs || ms > traceAfterMs {
			continue
		}
		t.ms = append(t.ms, ms)
		t.force[0] = append(t.force[0], float64(w.A[0][i]*s)+float64(w.A[1][i]*k))
		t.force[1] = append(t.force[1], float64(w.A[0][i]*k)-float64(w.A[1][i]*s))
		if w.HasGyro() {
			// Right-handed about across: the bag's bottom goes along.
			t.rate[0] = append(t.rate[0], bearing.Deg(float64(w.G[0][i]*k)-float64(w.G[1][i]*s)))
			t.rate[1] = append(t.rate[1], bearing.Deg(w.G[2][i]))
		}
	}
	return t
}

func (t traceChart) draw(c draw.Canvas) {
	middle := c.Min.Y + 0.5*(c.Max.Y-c.Min.Y)
	upper, lower := c, c
	if t.rate[0] != nil {
		upper.Min.Y, lower.Max.Y = middle-1.4*fontSize, middle-0.4*fontSize
	}
	t.part(upper, "force, m/s²: along, across dashed", t.force, t.rate[0] == nil)
	if t.rate[0] != nil {
		t.part(lower, "rate, degrees/s: tip, twist dashed", t.rate, true)
	}
}

func (t traceChart) part(c draw.Canvas, words string, lines [2][]float64, times bool) {
	low, high := 0.0, 0.0
	for _, l := range lines {
		for _, v := range l {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if !(high > low) {
		high = low + 1
	}
	room := 0.06 * (high - low)
	f := newFrame(c, linear(t.ms[0], t.ms[len(t.ms)-1]), linear(low-room, high+room))
	f.bottom, f.top = c.Min.Y+2*fontSize, c.Max.Y-1.6*fontSize
	if times {
		f.bottom = c.Min.Y + 3.4*fontSize
	}
	f.up(words, roundTicks(low-room, high+room), minus)
	if times {
		f.along("ms after the onset", []float64{-50, 0, 50, 100, 150}, minus)
	}
	c.StrokeLine2(line(faint, 0.7, 2, 2), f.at(0, 0).X, f.bottom, f.at(0, 0).X, f.top)
	for k, l := range lines {
		points := make([]vg.Point, len(l))
		for i, v := range l {
			points[i] = f.at(t.ms[i], v)
		}
		c.StrokeLines(line([]role{right, flip}[k], 1.2, t.dashes[k]...), points)
	}
	f.border()
}

// worstFigures draw the traces of the worst strikes, as far as windows were kept;
// by position in the comparison's list.
func worstFigures(c *eval.Comparison) map[int]Figure {
	out := map[int]Figure{}
	for k, x := range c.Worst {
		s := c.Strikes[x.Strike]
		if s.Window == nil || len(s.Window.A[0]) < 2 || math.IsNaN(s.Truth.BearingDeg) {
			continue
		}
		t := newTrace(s.Window, s.Truth.BearingDeg)
		fig := Figure{Name: figureName("worst", fmt.Sprintf("%02d", k+1)), Title: fmt.Sprintf("Traces of the strike at %.3f s of session %s: %s", x.OnsetS, x.Session, worstWords(c, x)),
			Heads: []string{"ms_after_onset", "along_mps2", "across_mps2"}, width: 235, height: 185, paint: t.draw}
		if t.rate[0] != nil {
			fig.Heads = append(fig.Heads, "tip_dps", "twist_dps")
		} else {
			fig.height = 120
		}
		for i, ms := range t.ms {
			row := []string{plain(ms), plain(t.force[0][i]), plain(t.force[1][i])}
			if t.rate[0] != nil {
				row = append(row, plain(t.rate[0][i]), plain(t.rate[1][i]))
			}
			fig.Rows = append(fig.Rows, row)
		}
		out[k] = fig
	}
	return out
}

// worstWords says where a strike landed and how far off the answer is.
func worstWords(c *eval.Comparison, x eval.WorstStrike) string {
	t := c.Strikes[x.Strike].Truth
	where := fmt.Sprintf("face %d at %s°, %s m up", t.Face, number(t.BearingDeg, 1, 0), number(t.HeightM, 1, 2))
	if t.Kind != "" {
		where = t.Kind + ", " + where
	}
	return fmt.Sprintf("%s; off by %s° around and %s cm up or down, %s times the usual error", where,
		minusText(number(x.BearingErrDeg, 1, 1)), minusText(number(x.HeightErrM, 100, 1)), number(x.TimesUsual, 1, 1))
}

func minusText(s string) string { return strings.Replace(s, "-", "−", 1) }

// htmlWorst is one of the worst strikes of a page.
type htmlWorst struct {
	Title, Where, Others string
	Reasons              []string
	Trace                template.HTML
}

// noReason is said of a strike about which nothing stands out.
const noReason = "no reason found: nothing about it stands out"

func buildWorst(c *eval.Comparison) ([]htmlWorst, error) {
	figures := worstFigures(c)
	var out []htmlWorst
	for k, x := range c.Worst {
		h := htmlWorst{Title: fmt.Sprintf("%s, %.3f s", x.Session, x.OnsetS), Where: worstWords(c, x),
			Others: fmt.Sprintf("%s %% of the error on rig %s; %s others with it", number(x.Share, 100, 1), x.Rig, againstWords(x.HeavyLabel))}
		for _, r := range x.Reasons {
			h.Reasons = append(h.Reasons, r.Words)
		}
		if len(h.Reasons) == 0 {
			h.Reasons = []string{noReason}
		}
		if fig, ok := figures[k]; ok {
			svg, err := drawn(fig)
			if err != nil {
				return nil, err
			}
			h.Trace = svg[0]
		}
		out = append(out, h)
	}
	return out, nil
}

// worstReasonWords tells how common each reason is among the worst strikes and
// among all.
func worstReasonWords(c *eval.Comparison) string {
	var parts []string
	for _, r := range c.WorstReasons {
		if r.Worst > 0 {
			parts = append(parts, fmt.Sprintf("%s %d of %d (%s %% of all strikes)", r.Name, r.Worst, len(c.Worst), number(float64(r.Strikes)/float64(r.Of), 100, 1)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "What stands out about them, and how common that is among all strikes: " + strings.Join(parts, "; ") + ". One that is as common among all explains nothing."
}
