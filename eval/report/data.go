package report

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"strconv"

	"strikerose/eval"
)

// CSV writes one line a group, detector and measure, in SI units and shares:
// rig,band,kind,strikes,unit,units,detector,measure,value,low,high,n,method,
// bound_sensor,bound_model. The last two are the least possible values of a
// mean error, by the sensor's noise alone and with model noise. What is not
// known is empty.
func CSV(w io.Writer, c *eval.Comparison) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"rig", "band", "kind", "strikes", "unit", "units", "detector", "measure", "value", "low", "high", "n", "method", "bound_sensor", "bound_model"}); err != nil {
		return err
	}
	for _, g := range c.Groups {
		for _, row := range g.Rows {
			for _, m := range c.Measures {
				f := row.Figure(m.Name)
				sensor, model := g.Least(m.Name)
				err := out.Write([]string{g.Rig, g.Band, g.Kind, strconv.Itoa(g.Strikes), g.Unit, strconv.Itoa(f.Units),
					row.Detector, m.Name, plain(f.Value), plain(f.Low), plain(f.High), strconv.Itoa(f.N), f.Method, plain(sensor.Value), plain(model.Value)})
				if err != nil {
					return err
				}
			}
		}
	}
	out.Flush()
	return out.Error()
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
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(struct {
		Version    int              `json:"version"`
		Corpus     string           `json:"corpus,omitempty"`
		Tool       string           `json:"tool,omitempty"`
		Command    string           `json:"command,omitempty"`
		Comparison *eval.Comparison `json:"comparison"`
	}{jsonVersion, m.Corpus, m.Tool, m.Command, c})
}
