package report

import (
	"encoding/csv"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"

	"strikerose/dataset/asjson"
	"strikerose/eval"
)

// CSV writes one line a group, detector and measure, in SI units and shares:
// rig,band,kind,strikes,unit,units,detector,measure,value,low,high,n,method,
// bound_sensor,bound_model,factor,level. The bounds are the least possible values
// of a mean error, by the sensor's noise alone and with model noise. What is not
// known is empty.
//
// Further lines follow, with measures of names of their own: cost_macs,
// cost_numbers, cost_bytes, cost_wait_ms and cost_board (1 or 0) of each detector
// on all strikes and on each rig; sensitivity_ and a mean error, by factor and
// level; effect_ and a mean error, its change without the session that is the
// level; learning_ and a measure, by the number of labels that is the level;
// left_rig_ and a measure, on a rig left out, by the rigs trained on.
func CSV(w io.Writer, c *eval.Comparison) error {
	out := csvWriter{w: csv.NewWriter(w)}
	out.row("rig", "band", "kind", "strikes", "unit", "units", "detector", "measure", "value", "low", "high", "n", "method", "bound_sensor", "bound_model", "factor", "level")
	for _, g := range c.Groups {
		for _, row := range g.Rows {
			for _, m := range c.Measures {
				sensor, model := g.Least(m.Name)
				out.figure(csvLine{rig: g.Rig, band: g.Band, kind: g.Kind, strikes: g.Strikes, unit: g.Unit, detector: row.Detector, measure: m.Name}, row.Figure(m.Name), sensor, model)
			}
		}
	}
	out.costs(c)
	out.factors(c)
	out.learning(c)
	out.rigToRig(c)
	out.w.Flush()
	return errors.Join(out.err, out.w.Error())
}

// csvWriter keeps the first error.
type csvWriter struct {
	w   *csv.Writer
	err error
}

func (c *csvWriter) row(cells ...string) {
	if c.err == nil {
		c.err = c.w.Write(cells)
	}
}

// csvLine is what a line of the CSV is about.
type csvLine struct {
	rig, band, kind   string
	strikes           int
	unit              string
	detector, measure string
	factor, level     string
}

func (c *csvWriter) figure(l csvLine, f, sensor, model eval.Figure) {
	c.row(l.rig, l.band, l.kind, strconv.Itoa(l.strikes), l.unit, strconv.Itoa(f.Units), l.detector, l.measure,
		plain(f.Value), plain(f.Low), plain(f.High), strconv.Itoa(f.N), f.Method, plain(sensor.Value), plain(model.Value), l.factor, l.level)
}

// extra writes a figure that no bound belongs to.
func (c *csvWriter) extra(l csvLine, f eval.Figure) {
	c.figure(l, f, eval.NoFigure(), eval.NoFigure())
}

func (c *csvWriter) costs(of *eval.Comparison) {
	for _, g := range of.Groups {
		if g.Choice == nil {
			continue
		}
		for _, cost := range g.Choice.Costs {
			board := 0.0
			if cost.Board {
				board = 1
			}
			for _, x := range []struct {
				name  string
				value float64
			}{{"macs", float64(cost.Macs)}, {"numbers", float64(cost.Numbers)}, {"bytes", float64(cost.Bytes)}, {"wait_ms", cost.WaitMs}, {"board", board}} {
				f := eval.NoFigure()
				f.Value = x.value
				c.extra(csvLine{rig: g.Rig, strikes: g.Strikes, detector: cost.Detector, measure: "cost_" + x.name}, f)
			}
		}
	}
}

func (c *csvWriter) factors(of *eval.Comparison) {
	for _, s := range of.Sensitivity {
		for _, f := range s.Factors {
			for _, l := range f.Levels {
				about := csvLine{rig: s.Rig, strikes: l.Strikes, factor: f.Name, level: l.Name}
				about.detector, about.measure = s.Bearing, "sensitivity_"+eval.BearingMAE
				c.extra(about, l.Bearing)
				about.detector, about.measure = s.Height, "sensitivity_"+eval.HeightMAE
				if s.Height != "" {
					c.extra(about, l.Height)
				}
			}
		}
	}
	for _, e := range of.SessionEffects {
		about := csvLine{rig: e.Rig, strikes: e.Labels, detector: e.Detector, factor: "without session", level: e.Session}
		about.measure = "effect_" + eval.BearingMAE
		c.extra(about, e.Bearing)
		about.measure = "effect_" + eval.HeightMAE
		c.extra(about, e.Height)
	}
}

func (c *csvWriter) learning(of *eval.Comparison) {
	for _, l := range of.Learning {
		for _, p := range l.Points {
			for _, x := range []struct {
				name string
				f    eval.Figure
			}{{eval.BearingMAE, p.Bearing}, {eval.HeightMAE, p.Height}, {eval.Faces95, p.Faces}, {eval.Bands95, p.Bands}} {
				c.extra(csvLine{rig: l.Rig, strikes: l.Labels, detector: l.Detector, measure: "learning_" + x.name, factor: "labels", level: strconv.Itoa(p.Labels)}, x.f)
			}
		}
	}
}

func (c *csvWriter) rigToRig(of *eval.Comparison) {
	if of.Leave == eval.LeaveRig {
		return // the rigs' own lines are of rigs left out
	}
	for _, l := range of.RigToRig {
		for _, row := range l.Group.Rows {
			for _, m := range of.Measures {
				c.extra(csvLine{rig: l.Rig, strikes: l.Group.Strikes, unit: l.Group.Unit, detector: row.Detector, measure: "left_rig_" + m.Name, factor: "rigs trained on", level: strings.Join(l.TrainedOn, " ")}, row.Figure(m.Name))
			}
		}
	}
}

func plain(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', 8, 64)
}

// jsonVersion is raised when a key of the JSON changes its meaning; keys may be
// added without.
const jsonVersion = 1

// JSON writes {"version": 1, "corpus": ..., "tool": ..., "comparison": ...}
// with the comparison as its struct tags say; angles in degrees, lengths in
// metres, shares from 0 to 1, and null for what is not known.
func JSON(w io.Writer, c *eval.Comparison, m Meta) error {
	return asjson.Write(w, document{jsonVersion, m.Corpus, m.Tool, m.Command, c})
}

// document is a comparison as JSON.
type document struct {
	Version    int              `json:"version"`           // version of this format: raised when a name changes its meaning, not when one is added
	Corpus     string           `json:"corpus,omitempty"`  // name of the corpus's directory; absent where not known
	Tool       string           `json:"tool,omitempty"`    // program, its version and commit; absent where not known
	Command    string           `json:"command,omitempty"` // line that makes the comparison again, without the places of files; absent where not known
	Comparison *eval.Comparison `json:"comparison"`        // what was compared, and what came of it; never null
}
