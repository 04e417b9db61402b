package intake

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// importer turns decoded records into a result, step by step.
type importer struct {
	rig     *rig.Rig
	options Options
	dialect Dialect
	shape   shape
	rec     *Records
	res     *Result
	modulus float64 // of a frame's stamp
	strict  bool    // frames with a checksum

	gyro                bool
	accelUnit, gyroUnit string
	accelStep, gyroStep float64 // SI per unit of the log
	timeUnit            string
	raw                 []int64 // stamps on one scale
	rawPerSecond        float64
	timeFrom            string // who stated the time unit; "" where it is a guess
	mended              int64  // time stamps put right
}

func (im *importer) run() error {
	if err := im.enough(); err != nil {
		return err
	}
	gyro, note := screenGyro(im.rec)
	im.gyro = gyro
	im.note(note)
	screenDecimals(im.rec)
	for _, step := range []func() error{im.settleTime, im.settleAccel, im.settleGyro} {
		if err := step(); err != nil {
			return err
		}
	}
	sensor := &im.rig.Sensor
	screenRange(im.rec, limit(sensor.AccelRangeG*dataset.StandardGravity, im.accelStep, im.accelUnit), limit(bearing.Rad(sensor.GyroRangeDPS), im.gyroStep, im.gyroUnit))
	if err := im.enough(); err != nil {
		return err
	}
	clock, err := im.repairClock()
	if err != nil {
		return err
	}
	im.signal(clock)
	return im.finish(clock)
}

func (im *importer) note(s string) {
	if s != "" {
		im.res.Notes = append(im.res.Notes, s)
	}
}

// limit is the largest reading that a sensor of a range can give, in the
// log's unit; 0: unknown. A quarter more than the nominal range is allowed:
// scales are trimmed, and the hardest strikes must not be lost over it. Counts
// may go up to the end of an int16, where a sensor's own end lies up to 1.6
// times beyond its nominal range, as 12 mg a count on 12 bits do.
func limit(rangeSI, step float64, unit string) float64 {
	const full = 32768
	if rangeSI == 0 || step == 0 {
		return 0
	}
	nominal := rangeSI / step
	if unit == "counts" && full <= 1.6*nominal {
		return max(1.25*nominal, full)
	}
	return 1.25 * nominal
}

// enough refuses a log with no records or too many damaged ones.
func (im *importer) enough() error {
	a := &im.rec.Account
	n := int64(im.rec.Len())
	most := im.options.maxDamaged()
	share := float64(a.Damaged) / float64(max(1, a.Damaged+n))
	if n >= 2 && share <= most {
		return nil
	}
	var kinds []string
	for _, r := range a.Repairs {
		if kind, ok := strings.CutPrefix(r.Kind, "damaged: "); ok {
			kinds = append(kinds, fmt.Sprintf("%d %s (first at %s)", r.Count, kind, r.First[0]))
		}
	}
	list := strings.Join(kinds, "; ")
	if list != "" {
		list = ": " + list
	}
	if n < 2 {
		mend := "state --dialect if this is another one"
		if im.dialect.Name == "frames" {
			mend = "compare [log.frame] of the rig file with the board's program"
		}
		return fmt.Errorf("holds no two good records as %s%s: %s", im.dialect.Name, list, mend)
	}
	return fmt.Errorf("%.0f %% of the records are damaged, more than the %.0f %% tolerated%s: check the link to the board, or raise --max-damaged", 100*share, 100*most, list)
}

// repairClock repairs the stamps and refuses the records that have no place in
// time.
func (im *importer) repairClock() (*ClockReport, error) {
	im.raw, im.rawPerSecond = im.rec.stamps(im.timeUnit) // some records were refused since
	clock, err := RepairClock(Stamps{Raw: im.raw, PerSecond: im.rawPerSecond, Moduli: im.moduliFor(im.rawPerSecond, im.timeUnit), Strict: im.strict})
	if err != nil {
		return nil, err
	}
	n := len(im.raw)
	if bad := slices.Concat(clock.Damaged, clock.RestartAt); float64(len(bad)) > im.options.maxDamaged()*float64(n) {
		return nil, fmt.Errorf("%d of %d time stamps make no sense beside their neighbours (first at %s): check that the column of stamps is the right one and in a unit of time", len(bad), n, im.rec.where(slices.Min(bad)))
	}
	a := &im.rec.Account
	for _, i := range clock.Damaged {
		if clock.Keep[i] {
			im.mended++
			a.note("time stamp put right from its neighbours", im.rec.where(i), fmt.Sprintf(": %d", im.raw[i]))
		}
	}
	for _, x := range []struct {
		kind string
		at   []int
	}{{"restart of the board", clock.RestartAt}, {"gap that starts a new segment", clock.GapAt}, {"lost samples within a segment", clock.LossAt}} {
		for _, i := range x.at {
			a.note(x.kind, im.rec.where(i), "")
		}
	}
	clock.drop(im.rec, &im.raw)
	return clock, nil
}

// drop removes the records without a place in time from all columns.
func (c *ClockReport) drop(r *Records, raw *[]int64) {
	to := 0
	for i, ok := range c.Keep {
		if ok {
			c.TNs[to], c.Segment[to], (*raw)[to] = c.TNs[i], c.Segment[i], (*raw)[i]
			to++
		}
	}
	if to == len(c.Keep) {
		return
	}
	keep := c.Keep
	r.keep(func(i int) (bool, string, string) {
		return keep[i], "record whose time stamp fits nowhere", ""
	})
	c.TNs, c.Segment, *raw = c.TNs[:to], c.Segment[:to], (*raw)[:to]
}

// signal converts the readings to SI in place.
func (im *importer) signal(c *ClockReport) {
	sig := &im.res.Signal
	sig.TNs, sig.Segment, sig.TRaw = c.TNs, c.Segment, im.raw
	for k := range 3 {
		sig.A[k] = scaled(im.rec.Readings[k], im.accelStep)
		if im.gyro {
			sig.G[k] = scaled(im.rec.Readings[k+3], im.gyroStep)
		}
	}
}

func scaled(x []float32, step float64) []float32 {
	for i, v := range x {
		x[i] = float32(float64(v) * step)
	}
	return x
}

// finish fills in the session row and checks what can only be checked at the
// end.
func (im *importer) finish(c *ClockReport) error {
	s, sig, a := &im.res.Session, &im.res.Signal, &im.rec.Account
	if err := im.enough(); err != nil {
		return err
	}
	s.TimeUnit, s.AccelUnit, s.GyroUnit = im.timeUnit, im.accelUnit, im.gyroUnit
	s.Samples = int64(sig.Len())
	s.Segments = int(sig.Segment[sig.Len()-1]) + 1
	s.DurationS = float64(sig.TNs[sig.Len()-1]-sig.TNs[0]) / 1e9
	s.NominalRateHz, s.RateHz, s.RawPerSecond = im.rig.Sensor.RateHz, c.RateHz, im.rawPerSecond
	s.HasGyro = sig.HasGyro()
	s.Wraps, s.Restarts, s.Gaps, s.LostSamples = c.Wraps, c.Restarts, c.Gaps, c.Lost
	s.DamagedStamps = im.mended
	s.Records, s.DamagedRecords, s.OtherLines, s.JunkBytes = s.Samples, a.Damaged, a.Other, a.Junk
	s.Repairs = a.Repairs
	if !rateFits(s.RateHz, s.NominalRateHz) {
		return im.wrongRate(s.RateHz)
	}
	if s.NominalRateHz < fewHz {
		im.note(fmt.Sprintf("%g Hz gives few readings of a contact of some 20 ms: single odd readings may pass for strikes; let the board log at %d Hz or more", s.NominalRateHz, fewHz))
	}
	r := measure(s, sig, im.rig, im.clipMPS2())
	im.warn(s, sig, r)
	return nil
}

// fewHz is the rate from which the finder tells odd readings from strikes.
const fewHz = 400

// clipMPS2 is the size from which a reading counts as clipped: the range less
// one step of the sensor or of the log's decimals, whichever is coarser. 0:
// the range is unknown.
func (im *importer) clipMPS2() float64 {
	sensor := &im.rig.Sensor
	if sensor.AccelRangeG <= 0 {
		return 0
	}
	step := sensor.AccelRangeG / 32768
	if sensor.AccelLSBPerG > 0 {
		step = 1 / sensor.AccelLSBPerG
	}
	step *= dataset.StandardGravity
	if im.accelUnit != "counts" && im.rec.Decimals != nil {
		step = max(step, im.accelStep/powersOfTen[im.rec.accelDecimals()])
	}
	return sensor.AccelRangeG*dataset.StandardGravity*(1-1e-6) - step // readings are float32
}

// warn adds the notes that follow from what was measured.
func (im *importer) warn(s *dataset.Session, sig *dataset.Signal, r rest) {
	turn := im.rig.AccelTurn()
	size := length(turn.Bag(s.StillMPS2))
	if im.options.AnyPose {
		size = r.size // of the readings as logged: they are what is calibrated
	}
	g := size / dataset.StandardGravity
	if !r.calm {
		im.note("the bag was never still: the quietest twentieth of the log stands in for rest")
	}
	if g < 0.95 || g > 1.05 {
		im.note(fmt.Sprintf("at rest the accelerometer reads %.3f g%s", g, im.offAtRest()))
	}
	if s.HasGyro {
		g := restOf(sig.G, s.NoiseRadps, s.RateHz, nil)
		mean := g.mean
		if k := im.rig.Calibration; k != nil && !im.options.AnyPose {
			for i, bias := range k.GyroBiasRadps {
				mean[i] -= bias
			}
		}
		mostDPS := 10.0
		if !r.calm {
			mostDPS = 60 // a bag that swings turns by some tens of degrees a second
		}
		for k := range 3 {
			if dps := bearing.Deg(math.Abs(mean[k])); dps > mostDPS {
				im.note(fmt.Sprintf("at rest the gyroscope's %c axis reads %.1f degrees a second: is %s the right unit? (--gyro-unit)", "xyz"[k], dps, s.GyroUnit))
			}
		}
	}
}

// offAtRest goes on from a reading at rest that is not gravity's.
func (im *importer) offAtRest() string {
	const off = ": its bias or scale is off by more than usual"
	switch {
	case im.options.AnyPose: // it is being calibrated
		return off
	case im.rig.Calibration != nil:
		return " with the rig's calibration" + off + " (strikerose rig calibrate measures both anew)"
	}
	return off + " (strikerose rig calibrate measures both)"
}
