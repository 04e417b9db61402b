package eval

import (
	"encoding/json"
	"math"
)

// Figure is one measured number with its doubt. Value, Low and High are NaN
// (null in JSON) where they cannot be given; the interval is at the level of
// the comparison that the figure belongs to.
type Figure struct {
	Value float64 // the number, in the unit of what it measures; null where it cannot be given
	Low   float64 // lower end of its interval; null where there is none
	High  float64 // upper end of its interval; null where there is none
	N     int     // how many strikes, or finds, or what the measure counts, it rests on, at least 0
	Units int     // how many resampling units stand behind the interval, at least 0
	// Method is how the interval was made, one of MethodBCa, MethodPercentile or
	// MethodExact; absent where there is none.
	Method string
}

// NoFigure is the figure of a measure that nothing was measured for.
func NoFigure() Figure {
	return Figure{Value: math.NaN(), Low: math.NaN(), High: math.NaN()}
}

// Known tells whether there is a value.
func (f Figure) Known() bool { return !math.IsNaN(f.Value) }

// HasInterval tells whether there is an interval.
func (f Figure) HasInterval() bool { return !math.IsNaN(f.Low) && !math.IsNaN(f.High) }

type figureJSON struct {
	Value  *float64 `json:"value"`
	Low    *float64 `json:"low"`
	High   *float64 `json:"high"`
	N      int      `json:"n"`
	Units  int      `json:"units"`
	Method string   `json:"method,omitempty"`
}

// MarshalJSON writes numbers that are not known as null.
func (f Figure) MarshalJSON() ([]byte, error) {
	return json.Marshal(figureJSON{
		Value: finite(f.Value), Low: finite(f.Low), High: finite(f.High),
		N: f.N, Units: f.Units, Method: f.Method,
	})
}

// UnmarshalJSON reads null as NaN.
func (f *Figure) UnmarshalJSON(data []byte) error {
	var j figureJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return err
	}
	*f = Figure{Value: orNaN(j.Value), Low: orNaN(j.Low), High: orNaN(j.High), N: j.N, Units: j.Units, Method: j.Method}
	return nil
}

func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

func orNaN(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}
