package rig

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
)

// complaint is a fault without a file: what is wrong and how to mend it. The
// key is relative to the part complained about; "" means the part itself.
type complaint struct{ key, what, mend string }

// Error writes the complaint as what: how to mend it.
func (c *complaint) Error() string { return c.what + ": " + c.mend }

func complain(key, mend, what string, args ...any) error {
	return &complaint{key: key, what: fmt.Sprintf(what, args...), mend: mend}
}

// problem is a value that does not make sense, with the path of its key.
type problem struct{ path, what, mend string }

// Validate checks a rig that was made in code or read from elsewhere than a
// rig file. It reports all faults.
func (r *Rig) Validate() error {
	var all []error
	given := func(path string) bool { return !strings.HasPrefix(path, "motion.") } // where 0 is not measured
	for _, p := range r.problems(given) {
		all = append(all, fmt.Errorf("rig %s: %s: %s", r.Key(), p.what, p.mend))
	}
	return errors.Join(all...)
}

// problems lists what is wrong with the values; has tells whether a key was
// given.
func (r *Rig) problems(has func(path string) bool) []problem {
	c := checker{has: has}
	c.identity(r)
	c.bag(r)
	c.bands(r)
	c.core(r)
	c.sensor(r)
	c.motion(r)
	c.calibration(r)
	c.log(r)
	return c.found
}

type checker struct {
	has   func(string) bool
	found []problem
}

func (c *checker) add(path, mend, what string, args ...any) {
	c.found = append(c.found, problem{path: path, what: fmt.Sprintf(what, args...), mend: mend})
}

// pass hands on a complaint, or several joined ones, as about a path.
func (c *checker) pass(path string, err error) {
	switch e := err.(type) {
	case *complaint:
		if e.key != "" {
			path += "." + e.key
		}
		c.add(path, e.mend, "%s", e.what)
	case interface{ Unwrap() []error }:
		for _, one := range e.Unwrap() {
			c.pass(path, one)
		}
	}
}

// need complains about a key that is missing.
func (c *checker) need(path, mend string) bool {
	if c.has(path) {
		return true
	}
	c.add(path, mend, "%s is missing", path)
	return false
}

// number checks a required number against the range that a real rig can have,
// and reports whether it holds.
func (c *checker) number(path, unit string, v, least, most float64) bool {
	if !c.need(path, fmt.Sprintf("add it in %s, %g to %g", unit, least, most)) {
		return false
	}
	return c.optional(path, unit, v, least, most)
}

// optional is number for a value that may be missing.
func (c *checker) optional(path, unit string, v, least, most float64) bool {
	if v >= least && v <= most {
		return true
	}
	c.add(path, fmt.Sprintf("give it in %s, %g to %g", unit, least, most), "%s is %g", path, v)
	return false
}

// choice checks one of a few words.
func (c *checker) choice(path, v string, words ...string) {
	if slices.Contains(words, v) {
		return
	}
	c.add(path, "use one of "+strings.Join(words, ", "), "%s %q is not known", path, v)
}

var (
	rigName     = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9-]{0,63}$`)
	revisionEnd = regexp.MustCompile(`-r[0-9]+$`)
	bandName    = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)
)

// ValidName checks a rig's name: letters, digits and dashes, not starting with
// a dash, and not ending like a revision, since NAME-rREV names one revision.
func ValidName(name string) error {
	switch {
	case !rigName.MatchString(name):
		return complain("", "use up to 64 letters, digits and dashes", "name %q is not a rig name", name)
	case revisionEnd.MatchString(name):
		return complain("", "leave the end out and use the key revision", "name %q ends like a revision", name)
	}
	return nil
}

func (c *checker) identity(r *Rig) {
	if c.need("name", `add a line such as name = "garage"`) {
		c.pass("name", ValidName(r.Name))
	}
	if c.need("revision", "add revision = 1, and raise it when the sensor or the filling moves") && r.Revision < 1 {
		c.add("revision", "count from 1", "revision is %d", r.Revision)
	}
	if r.Revision > maxRevision {
		c.add("revision", fmt.Sprintf("count from 1 to %d", maxRevision), "revision is %d", r.Revision)
	}
	if r.Faces < 2 || r.Faces > 72 {
		c.add("faces", "divide the bag into 2 to 72 equal faces; 6 is usual", "faces is %d", r.Faces)
	}
}

// leastSpanM is less than any bag's centre of mass lies below its top, or its
// radius of gyration; sizes above it keep the mechanics finite.
const leastSpanM = 0.001

func (c *checker) bag(r *Rig) {
	if c.need("bag", "add a table [bag] with mass_kg, length_m and diameter_m") {
		c.number("bag.mass_kg", "kilograms", r.Bag.MassKg, 1, 500)
		c.optional("bag.cover_mass_kg", "kilograms", r.Bag.CoverMassKg, 0, 100)
		c.number("bag.diameter_m", "metres", r.Bag.DiameterM, 0.05, 2)
		if c.number("bag.length_m", "metres", r.Bag.LengthM, 0.1, 5) {
			if d := r.Bag.CentreOfMassDepthM; d != nil && !(*d >= leastSpanM && *d < r.Bag.LengthM) {
				c.add("bag.centre_of_mass_depth_m", "give metres below the bag's top edge, inside the bag",
					"bag.centre_of_mass_depth_m is %g in a bag of %g m", *d, r.Bag.LengthM)
			}
			if k := r.Bag.RadiusOfGyrationM; k != nil && !(*k >= leastSpanM && *k < r.Bag.LengthM) {
				c.add("bag.radius_of_gyration_m", "give metres about the centre of mass; an even bag has length / 3.46",
					"bag.radius_of_gyration_m is %g in a bag of %g m", *k, r.Bag.LengthM)
			}
		}
	}
	if c.need("hang", "add a table [hang] with chain_m and strap_m") {
		c.number("hang.chain_m", "metres", r.Hang.ChainM, 0.01, 20)
		c.number("hang.strap_m", "metres", r.Hang.StrapM, 0, 5)
		c.optional("hang.chain_mass_kg", "kilograms", r.Hang.ChainMassKg, 0, 100)
	}
}

func (c *checker) bands(r *Rig) {
	if len(r.Bands) == 0 {
		c.add("bands", `add bands = [ {name="low", to_m=0.35}, {name="mid", to_m=0.65}, {name="high"} ], or leave bands out for thirds`, "bands is empty")
		return
	}
	if n := len(r.Bands); n > maxBands {
		c.add("bands", fmt.Sprintf("at most %d can be told apart on a bag; three are usual", maxBands), "there are %d bands", n)
		return
	}
	from, seen := 0.0, map[string]bool{}
	for i, b := range r.Bands {
		at := fmt.Sprintf("bands[%d]", i)
		switch {
		case !bandName.MatchString(b.Name):
			c.add(at, "name the band with letters, digits, dashes and underscores", "%s has the name %q", at, b.Name)
		case seen[b.Name]:
			c.add(at, "give each band a name of its own", "%s has the name %q again", at, b.Name)
		}
		seen[b.Name] = true
		if i == len(r.Bands)-1 {
			if b.ToM != 0 {
				c.add(at+".to_m", "leave to_m out of the last band", "the last band, %q, ends at the bag's top and not at %g m", b.Name, b.ToM)
			}
			continue
		}
		if !(b.ToM > from) || b.ToM >= r.Bag.LengthM && r.Bag.LengthM > 0 {
			c.add(at+".to_m", "list bands from the bottom up, each with the height to_m in metres at which it ends, inside the bag",
				"band %q ends at %g m where the one below ends at %g m and the bag at %g m", b.Name, b.ToM, from, r.Bag.LengthM)
		}
		from = math.Max(from, b.ToM)
	}
}

func (c *checker) core(r *Rig) {
	inside := r.Bag.MassKg
	what := "the cover"
	if k := r.Core; k != nil {
		mass := c.number("core.mass_kg", "kilograms", k.MassKg, 0.01, 500)
		length := c.number("core.length_m", "metres", k.LengthM, 0.01, 5)
		diameter := c.number("core.diameter_m", "metres", k.DiameterM, 0.005, 2)
		top := c.number("core.top_depth_m", "metres below the bag's top edge", k.TopDepthM, 0, 5)
		if length && top && r.Bag.LengthM > 0 && k.TopDepthM+k.LengthM > r.Bag.LengthM+1e-9 {
			c.add("core.length_m", "shorten the core or raise it: top_depth_m + length_m may not pass the bag's length_m",
				"the core ends %g m below the top of a bag of %g m", k.TopDepthM+k.LengthM, r.Bag.LengthM)
		}
		if diameter && r.Bag.DiameterM > 0 && k.DiameterM >= r.Bag.DiameterM {
			c.add("core.diameter_m", "a core is thinner than its bag; leave [core] out for an evenly filled bag",
				"the core is %g m thick in a bag of %g m", k.DiameterM, r.Bag.DiameterM)
		}
		if mass {
			inside -= k.MassKg
			what = "core and cover"
		}
	}
	if r.Bag.MassKg > 0 && inside-r.Bag.CoverMassKg <= 0 {
		path := "bag.cover_mass_kg"
		if r.Core != nil {
			path = "core.mass_kg"
		}
		c.add(path, "bag.mass_kg is the whole bag, core and cover included", "%s weigh as much as the whole bag of %g kg", what, r.Bag.MassKg)
	}
}

func (c *checker) sensor(r *Rig) {
	if !c.need("sensor", "add a table [sensor] with depth_m, rate_hz, accel_range_g and axes") {
		return
	}
	s := r.Sensor
	if c.need("sensor.depth_m", "add it in metres below the bag's top edge") &&
		!(s.DepthM >= -math.Max(r.Hang.StrapM, 0) && (s.DepthM <= r.Bag.LengthM || r.Bag.LengthM <= 0)) {
		c.add("sensor.depth_m", "give metres below the bag's top edge: from the lower pivot (minus strap_m) to the bag's length_m",
			"sensor.depth_m is %g on a bag of %g m", s.DepthM, r.Bag.LengthM)
	}
	c.number("sensor.rate_hz", "samples a second", s.RateHz, 10, 50000)
	c.number("sensor.accel_range_g", "g", s.AccelRangeG, 0.5, 10000)
	c.optional("sensor.gyro_range_dps", "degrees a second", s.GyroRangeDPS, 0, 100000)
	c.optional("sensor.accel_lsb_per_g", "counts for one g", s.AccelLSBPerG, 0, 1e7)
	c.optional("sensor.gyro_lsb_per_dps", "counts for one degree a second", s.GyroLSBPerDPS, 0, 1e7)
	c.optional("sensor.accel_noise_mps2", "m/s²", s.AccelNoiseMPS2, 0, 20)
	c.optional("sensor.yaw_deg", "degrees", s.YawDeg, -360, 360)
	if s.YawSDDeg != nil {
		c.optional("sensor.yaw_sd_deg", "degrees", *s.YawSDDeg, 0, 60)
	}
	if c.need("sensor.axes", `add axes = { x = "90", y = "0", z = "up" } and say where each axis points`) {
		_, err := s.Axes.Matrix()
		c.pass("sensor.axes", err)
	}
}

func (c *checker) motion(r *Rig) {
	if r.Motion == nil {
		return
	}
	m := *r.Motion
	for _, v := range []struct {
		key, unit string
		value     float64
		most      float64
	}{
		{"swing_hz", "hertz", m.SwingHz, 5}, {"rocking_hz", "hertz", m.RockingHz, 20}, {"twist_hz", "hertz", m.TwistHz, 20},
		{"swing_decay_s", "seconds", m.SwingDecayS, 3600}, {"rocking_decay_s", "seconds", m.RockingDecayS, 3600},
		{"twist_decay_s", "seconds", m.TwistDecayS, 3600},
	} {
		if path := "motion." + v.key; c.has(path) || v.value != 0 {
			c.optional(path, v.unit, v.value, 0.01, v.most)
		}
	}
	if len(c.found) > 0 {
		return // nothing to compute the other frequency from
	}
	if swing, rocking := r.Mechanics().Modes(); swing.Hz >= rocking.Hz {
		path := "motion.rocking_hz"
		if m.RockingHz == 0 {
			path = "motion.swing_hz"
		}
		c.add(path, "rocking is the faster of the two: exchange them, or correct the sizes that the missing one is computed from",
			"the bag would swing at %.3g Hz and rock at %.3g Hz", swing.Hz, rocking.Hz)
	}
}

func (c *checker) calibration(r *Rig) {
	if r.Calibration == nil {
		return
	}
	k := r.Calibration
	c.bias("calibration.accel_bias_mps2", "m/s²", k.AccelBiasMPS2, 50)
	c.bias("calibration.gyro_bias_radps", "rad/s", k.GyroBiasRadps, 10)
	c.optional("calibration.gyro_noise_radps", "rad/s", k.GyroNoiseRadps, 0, 10)
	c.correction("calibration.accel_matrix", k.AccelMatrix)
	c.correction("calibration.gyro_matrix", k.GyroMatrix)
}

// bias checks the bias of a sensor's three axes.
func (c *checker) bias(path, unit string, v []float64, most float64) {
	if v != nil && len(v) != 3 {
		c.add(path, "give three numbers, one an axis, in "+unit, "%s has %d numbers", path, len(v))
		return
	}
	for i := range v {
		c.optional(fmt.Sprintf("%s[%d]", path, i), unit, v[i], -most, most)
	}
}

// correction checks a matrix that corrects a sensor: three rows of three, near
// the identity, as a sensor is nearly right by itself.
func (c *checker) correction(path string, m [][]float64) {
	if m == nil {
		return
	}
	if len(m) != 3 {
		c.add(path, "give three rows of three numbers", "%s has %d rows", path, len(m))
		return
	}
	for i, row := range m {
		if len(row) != 3 {
			c.add(fmt.Sprintf("%s[%d]", path, i), "give three rows of three numbers", "row %d of %s has %d numbers", i+1, path, len(row))
			continue
		}
		for j, v := range row {
			want := 0.0
			if i == j {
				want = 1
			}
			if !(math.Abs(v-want) <= 0.5) {
				c.add(fmt.Sprintf("%s[%d][%d]", path, i, j), "measure again with strikerose rig calibrate: a correction is nearly the identity",
					"row %d, column %d of %s is %g", i+1, j+1, path, v)
				return
			}
		}
	}
	for _, row := range m {
		if len(row) != 3 {
			return
		}
	}
	if det := dot([3]float64(m[0]), cross([3]float64(m[1]), [3]float64(m[2]))); !(det > leastDeterminant) {
		c.add(path, "measure again with strikerose rig calibrate: a correction is nearly the identity", "%s has the determinant %g", path, det)
	}
}

// leastDeterminant of a correcting matrix: below it, it flattens readings.
const leastDeterminant = 0.1

func (c *checker) log(r *Rig) {
	l := r.Log
	if l.TimeUnit != "" {
		c.choice("log.time_unit", l.TimeUnit, "us", "ms", "s")
	}
	if l.AccelUnit != "" {
		c.choice("log.accel_unit", l.AccelUnit, "counts", "g", "mg", "m/s2")
	}
	if l.GyroUnit != "" {
		c.choice("log.gyro_unit", l.GyroUnit, "counts", "dps", "rad/s")
	}
	if l.AccelUnit == "counts" && r.Sensor.AccelLSBPerG == 0 {
		c.add("log.accel_unit", "add sensor.accel_lsb_per_g from the sensor's data sheet", "log.accel_unit is counts and nothing says how many make one g")
	}
	if l.GyroUnit == "counts" && r.HasGyro() && r.Sensor.GyroLSBPerDPS == 0 {
		c.add("log.gyro_unit", "add sensor.gyro_lsb_per_dps from the sensor's data sheet", "log.gyro_unit is counts and nothing says how many make one degree a second")
	}
	if l.Frame != nil {
		_, err := l.Frame.Parse()
		c.pass("log.frame", err)
	}
}
