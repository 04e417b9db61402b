package intake

import (
	"fmt"
	"math"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// importer turns decoded records into a result, chunk by chunk. What the first
// chunk settles holds for all; what can only be judged on the whole is judged at
// the end.
type importer struct {
	rig     *rig.Rig
	options Options
	dialect Dialect
	shape   shape
	res     *Result
	sink    func(*dataset.Signal) error
	modulus float64 // of a frame's stamp
	strict  bool    // frames with a checksum
	chunk   chunking

	decoded, own Account // what the decoder counted, once it is done, and what is counted here

	settled             bool
	gyro                bool
	accel               chosen
	accelUnit, gyroUnit string
	accelStep, gyroStep float64 // SI per unit of the log
	clipMPS2            float64
	timeUnit            string
	rawPerSecond        float64
	timeFrom            string // who stated the time unit; "" where it is a guess
	assumed             string // what columns without names were taken for; "" where they have some
	screens             screens

	rec    *Records // the chunk at work; its stamps are on one scale when settled
	clock  clock
	before *overlap // of the chunk before; nil: there is none
	out    dataset.Signal
	joined joined
	rest   summary
}

// take adds decoded records. The last chunk of a log is left for end.
func (im *importer) take(b batch) error {
	if im.settled {
		im.screens.later(b.Records, &im.own)
	}
	if im.rec.Len() > 0 && im.rec.Len()+b.Len() > im.chunk.records {
		fresh := !im.settled
		if err := im.next(false); err != nil {
			return err
		}
		if fresh {
			im.screens.later(b.Records, &im.own)
		}
	}
	if im.settled {
		im.rec.appendScaled(b.Records)
	} else {
		im.shape = b.shape
		im.rec.append(b.Records)
	}
	return nil
}

// end takes in what is left when the decoder is done.
func (im *importer) end() error {
	if err := im.next(true); err != nil {
		return err
	}
	return im.finish()
}

// next does the chunk at work.
func (im *importer) next(last bool) error {
	if !im.settled {
		if err := im.settle(last); err != nil {
			return err
		}
		im.settled = true
	}
	return im.join(last)
}

// settle takes from the first chunk what holds for the whole log.
func (im *importer) settle(whole bool) error {
	if err := im.enough(int64(im.rec.Len()), whole); err != nil {
		return err
	}
	has, note := im.screens.settleGyro(im.rec)
	im.screens.gyro(im.rec, &im.own)
	im.gyro = has
	im.note(note)
	im.screens.settleDecimals(im.rec)
	im.screens.decimals(im.rec, &im.own)
	if err := im.settleTime(); err != nil {
		return err
	}
	if err := im.settleAccel(whole); err != nil {
		return err
	}
	if err := im.settleGyro(); err != nil {
		return err
	}
	sensor := &im.rig.Sensor
	im.screens.most = [2]float64{
		limit(sensor.AccelRangeG*dataset.StandardGravity, im.accelStep, im.accelUnit),
		limit(bearing.Rad(sensor.GyroRangeDPS), im.gyroStep, im.gyroUnit),
	}
	im.screens.ranges(im.rec, &im.own)
	if err := im.enough(int64(im.rec.Len()), whole); err != nil {
		return err
	}
	im.clipMPS2 = im.clipped()
	im.screens.scale, im.screens.cut = im.rec.scaleOf(im.timeUnit)
	im.rawPerSecond = unitsPerSecond(im.timeUnit) * float64(im.screens.scale)
	im.rec.rescale(im.screens.scale, im.screens.cut, &im.own)
	im.rec.Micro, im.rec.Decimals = nil, nil
	return nil
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

// enough refuses a log with too few good records or, where all of it has been
// seen, too many damaged ones.
func (im *importer) enough(good int64, whole bool) error {
	var a Account
	if whole {
		a = im.account()
	}
	most := im.options.maxDamaged()
	share := float64(a.Damaged) / float64(max(1, a.Damaged+good))
	if good >= 2 && share <= most {
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
	if good < 2 {
		mend := "state --dialect if this is another one"
		if im.dialect.Name == "frames" {
			mend = "compare [log.frame] of the rig file with the board's program"
		}
		return fmt.Errorf("holds no two good records as %s%s: %s", im.dialect.Name, list, mend)
	}
	return fmt.Errorf("%.0f %% of the records are damaged, more than the %.0f %% tolerated%s: check the link to the board, or raise --max-damaged", 100*share, 100*most, list)
}

// account is all that was counted of a log that has been decoded.
func (im *importer) account() (a Account) {
	a.add(&im.decoded)
	a.add(&im.own)
	return a
}

// finish fills in the session row and checks what can only be checked at the
// end.
func (im *importer) finish() error {
	s, j := &im.res.Session, &im.joined
	if float64(j.doubts) > im.options.maxDamaged()*float64(j.records) {
		return fmt.Errorf("%d of %d time stamps make no sense beside their neighbours (first at %s): check that the column of stamps is the right one and in a unit of time", j.doubts, j.records, j.firstDoubt)
	}
	if err := im.enough(j.samples, true); err != nil {
		return err
	}
	a := im.account()
	s.TimeUnit, s.AccelUnit, s.GyroUnit = im.timeUnit, im.accelUnit, im.gyroUnit
	s.Samples = j.samples
	s.Segments = int(j.lastSegment) + 1
	s.DurationS = float64(j.lastNs-j.firstNs) / 1e9
	s.NominalRateHz, s.RateHz, s.RawPerSecond = im.rig.Sensor.RateHz, j.rateHz(im.rawPerSecond), im.rawPerSecond
	s.HasGyro = im.gyro
	s.Wraps, s.Restarts, s.Gaps, s.LostSamples = j.wraps, j.restarts, j.gaps, j.lost
	s.DamagedStamps = j.mended
	s.Records, s.DamagedRecords, s.OtherLines, s.JunkBytes = s.Samples, a.Damaged, a.Other, a.Junk
	s.Repairs = a.Repairs
	if !rateFits(s.RateHz, s.NominalRateHz) {
		return im.wrongRate(s.RateHz)
	}
	if s.NominalRateHz < fewHz {
		im.note(fmt.Sprintf("%g Hz gives few readings of a contact of some 20 ms: single odd readings may pass for strikes; let the board log at %d Hz or more", s.NominalRateHz, fewHz))
	}
	r := im.rest.measure(s, im.rig)
	if j.chunks > 1 {
		if err := im.restFits(r); err != nil {
			return err
		}
	}
	im.warn(s, r)
	return nil
}

// fewHz is the rate from which the finder tells odd readings from strikes.
const fewHz = 400

// clipped is the size from which a reading counts as clipped: the range less
// one step of the sensor or of the log's decimals, whichever is coarser. 0:
// the range is unknown.
func (im *importer) clipped() float64 {
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
func (im *importer) warn(s *dataset.Session, r rest) {
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
		g := im.rest.gyro.rest(s.NoiseRadps)
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
