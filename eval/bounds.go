package eval

import (
	"fmt"
	"math"

	"strikerose/dataset/rig"
	"strikerose/eval/bound"
)

// Bound is the least mean error that any detector without bias could have on a
// group of strikes, by the name of the measure (BearingMAE, HeightMAE): that of
// a normal error with the standard deviation of the Cramér-Rao bound of each
// strike's rig and true height, in the window that detectors may read. What a
// strike's impulse and pulse were is not known; usual ones stand in.
type Bound struct {
	Sensor map[string]Figure `json:"sensor"` // bounds by the sensor's noise alone, by the name of the mean error; without intervals
	// Model are the bounds with noise that stands for what the model leaves out, by the name
	// of the mean error; without intervals.
	Model map[string]Figure `json:"model"`
}

// Least returns the group's bounds on a mean error: by the sensor's noise
// alone and with model noise; NoFigure where there is none.
func (g Group) Least(measure string) (sensor, model Figure) {
	sensor, model = NoFigure(), NoFigure()
	if g.Bound == nil {
		return sensor, model
	}
	if f, ok := g.Bound.Sensor[measure]; ok {
		sensor = f
	}
	if f, ok := g.Bound.Model[measure]; ok {
		model = f
	}
	return sensor, model
}

// normalMAE is the mean size of a normal error of standard deviation 1.
func normalMAE() float64 { return math.Sqrt(2 / math.Pi) }

// addBounds gives every group its bound. A rig that no bound can be computed
// for is named in a warning, and its groups have none.
func (c *Comparison) addBounds(d *Data) {
	rigs := map[string]*rig.Rig{}
	for _, x := range d.Cases {
		rigs[x.Rig.Key()] = x.Rig
	}
	sensor, model := make([]bound.Least, len(c.Strikes)), make([]bound.Least, len(c.Strikes))
	none := map[string]bool{}
	for _, key := range c.Rigs {
		if err := c.boundRig(rigs[key], sensor, model); err != nil {
			none[key] = true
			c.Warnings = append(c.Warnings, fmt.Sprintf("no bound for rig %s: %v", key, err))
		}
	}
	for k, m := range c.groups() {
		if !c.allBounded(m.strikes, none) {
			continue
		}
		c.Groups[k].Bound = &Bound{Sensor: c.meanBounds(m.strikes, sensor), Model: c.meanBounds(m.strikes, model)}
	}
}

// boundRig fills in the bounds of a rig's strikes, by position.
func (c *Comparison) boundRig(r *rig.Rig, sensor, model []bound.Least) error {
	var positions []int
	var heights []float64
	for i, s := range c.Strikes {
		if s.Rig == r.Key() && !math.IsNaN(s.Truth.HeightM) {
			positions = append(positions, i)
			// A label's own error may put it just off the bag.
			heights = append(heights, max(0, min(r.Bag.LengthM, s.Truth.HeightM)))
		}
	}
	window := WholeWindow()
	s := bound.Setting{Rig: r, Gyro: r.HasGyro(), BeforeS: window.PreMs / 1000, AfterS: window.PostMs / 1000}
	for _, x := range []struct {
		noise bound.ModelNoise
		into  []bound.Least
	}{{bound.ModelNoise{}, sensor}, {bound.UsualModelNoise(), model}} {
		s.Model = x.noise
		least, err := bound.AlongBag(s, heights)
		if err != nil {
			return err
		}
		for k, i := range positions {
			x.into[i] = least[k]
		}
	}
	return nil
}

func (c *Comparison) allBounded(strikes []int, none map[string]bool) bool {
	for _, i := range strikes {
		if none[c.Strikes[i].Rig] {
			return false
		}
	}
	return true
}

// meanBounds averages the bounds of strikes whose true height is known, as
// mean errors. Where one cannot be told at all, the mean is not known either.
func (c *Comparison) meanBounds(strikes []int, least []bound.Least) map[string]Figure {
	bearing, height := NoFigure(), NoFigure()
	var bearingSum, heightSum float64
	n := 0
	for _, i := range strikes {
		if math.IsNaN(c.Strikes[i].Truth.HeightM) {
			continue
		}
		bearingSum += least[i].BearingSDDeg
		heightSum += least[i].HeightSDM
		n++
	}
	mean := func(f *Figure, sum float64) {
		if n > 0 && !math.IsInf(sum, 0) {
			f.Value, f.N = normalMAE()*sum/float64(n), n
		}
	}
	mean(&bearing, bearingSum)
	mean(&height, heightSum)
	return map[string]Figure{BearingMAE: bearing, HeightMAE: height}
}
