package intake

import (
	"errors"
	"fmt"
	"math"

	"strikerose/dataset"
)

// settleTime settles the time unit and checks the rate. Where nothing states
// the unit, the rig's rate decides.
func (im *importer) settleTime() error {
	c, err := choose(ofTime, im.options.TimeUnit, im.shape.units[ofTime], im.rig.Log.TimeUnit)
	if err != nil {
		return err
	}
	im.timeFrom = c.from
	try := []string{c.unit}
	if c.unit == "" {
		try = []string{im.dialect.time, "us", "ms", "s"}
	}
	nominal := im.rig.Sensor.RateHz
	var rate float64
	for _, u := range try {
		scale, cut := im.rec.scaleOf(u)
		raw, perSecond := im.rec.stamps(scale, cut, &im.own), unitsPerSecond(u)*float64(scale)
		if len(raw) < 2 {
			return errors.New("holds no two records with a time stamp in range")
		}
		period, _, _, err := rhythm(raw, im.moduliFor(perSecond, u))
		if err != nil {
			return fmt.Errorf("%v: the column of stamps must count time in us, ms or s", err)
		}
		r := perSecond / period
		if !rateFits(r, nominal) && math.Abs(r/nominal-1) < 0.3 {
			// Many losses make the first estimate too low; counting them mends it.
			if c, err := RepairClock(Stamps{Raw: raw, PerSecond: perSecond, Moduli: im.moduliFor(perSecond, u), Strict: im.strict}); err == nil {
				r = c.RateHz
			}
		}
		if rate == 0 || rateFits(r, nominal) {
			rate = r
			im.timeUnit = u
		}
		if rateFits(rate, nominal) {
			break
		}
	}
	if !rateFits(rate, nominal) {
		return im.wrongRate(rate)
	}
	if c.unit == "" {
		im.res.Guessed = append(im.res.Guessed, fmt.Sprintf("time stamps are in %s: that makes %.4g Hz, the rig says %g", im.timeUnit, rate, nominal))
	}
	return nil
}

// rateFits tells whether a rate is within 5 % of the rig's: sensors are off by a
// percent or two, wrong rigs and units by far more.
func rateFits(rateHz, nominalHz float64) bool {
	return nominalHz <= 0 || math.Abs(rateHz/nominalHz-1) <= 0.05
}

// wrongRate says what rate was found and how it could be mended.
func (im *importer) wrongRate(rate float64) error {
	nominal := im.rig.Sensor.RateHz
	for _, u := range []string{"us", "ms", "s"} {
		if other := rate * unitsPerSecond(u) / unitsPerSecond(im.timeUnit); u != im.timeUnit && rateFits(other, nominal) {
			return fmt.Errorf("samples come at %.5g Hz with time in %s (so %s says), but rig %s has rate_hz %g; in %s it would be %.5g Hz: say --time-unit %s", rate, im.timeUnit, im.timeFrom, im.rig.Key(), nominal, u, other, u)
		}
	}
	fault := fmt.Sprintf("samples come at %.5g Hz with time in %s, but rig %s has rate_hz %g: import with the rig file that this log was made on, or correct rate_hz", rate, im.timeUnit, im.rig.Key(), nominal)
	second := unitsPerSecond(im.timeUnit)
	if ten := math.Pow(10, math.Round(math.Log10(second*nominal/rate))); ten > 1 && rateFits(rate*ten/second, nominal) {
		fault += fmt.Sprintf("; if the stamps count %.0e a second instead, write them in us, ms or s", ten)
	}
	return errors.New(fault)
}

// moduliFor lists where the stamps' counter may wrap.
func (im *importer) moduliFor(perSecond float64, unit string) []float64 {
	if im.dialect.Name == "frames" {
		if im.modulus == 0 {
			return nil
		}
		return []float64{im.modulus}
	}
	return moduli(perSecond, unit)
}

// settleAccel settles the accelerometer's unit by the still reading, and
// checks that it points up. Where there is more of the log to come, the bag may
// have been moved about at its start: restFits judges that at the end.
func (im *importer) settleAccel(whole bool) error {
	c, err := choose(ofAccel, im.options.AccelUnit, im.shape.units[ofAccel], im.rig.Log.AccelUnit)
	if err != nil {
		return err
	}
	im.accel = c
	accel := columns(im.rec.Readings[:3])
	still := restOf(accel, noises(accel, mostDifferences), im.rig.Sensor.RateHz)
	unit, guess, err := chooseAccel(c, im.dialect.accel, im.restSize(still), im.rig)
	switch {
	case err == nil:
	case whole || c.unit == "" || hopeless(im.restSize(still)*accelScale(c.unit, im.rig)):
		return im.ofColumns(err)
	default:
		unit = c.unit
	}
	if guess != "" {
		im.res.Guessed = append(im.res.Guessed, guess)
	}
	im.accelUnit, im.accelStep = unit, accelScale(unit, im.rig)
	if im.options.AnyPose || !whole {
		return nil
	}
	return im.ofColumns(upright(still.mean, im.rig))
}

// ofColumns adds to a fault at rest what columns without names were taken for: the
// accelerations may be others.
func (im *importer) ofColumns(err error) error {
	if err == nil || im.assumed == "" {
		return err
	}
	return fmt.Errorf("%w; %s", err, im.assumed)
}

// hopeless tells whether a reading at rest is so far from 1 g that its unit must
// be wrong.
func hopeless(mps2 float64) bool {
	return mps2 < 0.5*dataset.StandardGravity || mps2 > 2*dataset.StandardGravity
}

// restSize is the size of the reading at rest, in its unit.
func (im *importer) restSize(r rest) float64 {
	if im.options.AnyPose {
		return r.size
	}
	return length(r.mean)
}

// restFits judges the reading at rest of a log of several chunks, in m/s2.
func (im *importer) restFits(r rest) error {
	c := im.accel
	c.unit = im.accelUnit
	if _, _, err := chooseAccel(c, im.dialect.accel, im.restSize(r)/im.accelStep, im.rig); err != nil {
		return im.ofColumns(err)
	}
	if im.options.AnyPose {
		return nil
	}
	return im.ofColumns(upright(r.mean, im.rig))
}

// settleGyro settles the gyroscope's unit.
func (im *importer) settleGyro() error {
	if !im.gyro {
		if im.rig.HasGyro() {
			im.note("the rig has a gyroscope, but the log holds no rotation rates: it is read without")
		}
		return nil
	}
	c, err := choose(ofGyro, im.options.GyroUnit, im.shape.units[ofGyro], im.rig.Log.GyroUnit)
	if err != nil {
		return err
	}
	guessed := c.unit == ""
	if guessed {
		c.unit = im.dialect.gyro
		if im.accelUnit != im.dialect.accel { // not the dialect's habit: keep to the accelerations
			c.unit = "dps"
			if im.accelUnit == "counts" {
				c.unit = "counts"
			}
		}
	}
	step := gyroScale(c.unit, im.rig)
	if step == 0 && !im.rig.HasGyro() {
		im.gyro = false
		im.note("the log holds rotation rates in counts, but the rig has no gyroscope: they are left out (add gyro_range_dps and gyro_lsb_per_dps to [sensor] to keep them)")
		return nil
	}
	if step == 0 {
		return fmt.Errorf("rotation rates are in counts, but rig %s gives no gyro_lsb_per_dps: add it to [sensor], or state --gyro-unit", im.rig.Key())
	}
	if !im.rig.HasGyro() {
		im.note("the log holds rotation rates although the rig has no gyroscope: they are kept")
	}
	im.gyroUnit, im.gyroStep = c.unit, step
	if guessed {
		im.res.Guessed = append(im.res.Guessed, "rotation rates are in "+c.unit)
	}
	return nil
}
