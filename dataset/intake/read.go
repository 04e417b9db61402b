package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Read reads one log, plain, gzip or zstd, to its end. The name appears in
// messages and, without its folder, in the session row. A nil Progress is
// allowed.
//
// Damage is repaired or counted in the session row; it is an error only past
// Options.MaxDamagedShare. Errors name the log, what is wrong and how to mend
// it. When ctx is done, its error is returned.
func Read(ctx context.Context, r io.Reader, name string, rg *rig.Rig, o Options, p Progress) (*Result, error) {
	res, err := read(ctx, r, name, rg, o, p)
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return res, nil
}

func read(ctx context.Context, r io.Reader, name string, rg *rig.Rig, o Options, p Progress) (*Result, error) {
	if rg == nil {
		panic("intake: no rig")
	}
	if o.MaxDamagedShare < 0 || o.MaxDamagedShare > 1 || math.IsNaN(o.MaxDamagedShare) {
		return nil, fmt.Errorf("share of damaged records %g tolerated is not between 0 and 1", o.MaxDamagedShare)
	}
	s, err := openSource(ctx, r, p)
	if err != nil {
		return nil, err
	}
	defer s.close()
	rec := &Records{}
	dialect, dec, err := prepare(s, rec, rg, o)
	if err != nil {
		return nil, err
	}
	if err := dec.decode(ctx, s, rec); err != nil {
		return nil, err
	}
	im := &importer{rig: rg, options: o, dialect: dialect, shape: dec.shape(), rec: rec, res: &Result{Notes: dec.notes()}}
	if d, ok := dec.(*frameDecoder); ok {
		im.modulus, im.strict = d.stampModulus(), d.layout.Checksum != "none"
	}
	sess := &im.res.Session
	if sess.LogSHA256, sess.LogBytes, err = s.finish(); err != nil {
		return nil, err
	}
	sess.LogName, sess.Dialect, sess.Compression = filepath.Base(name), dialect.Name, s.compression
	if s.cut != "" {
		rec.Account.note("compressed stream cut short", fmt.Sprintf("plain byte %d", s.at), ": "+s.cut)
		im.res.Notes = append(im.res.Notes, s.cut+": what could be read before is kept; copy the log again if there is more")
	}
	if err := im.run(); err != nil {
		return nil, err
	}
	return im.res, nil
}

// prepare recognises the dialect by the log's first bytes. Where these are all
// of one endless line, it is counted as damaged and the bytes after it are
// looked at.
func prepare(s *Source, rec *Records, rg *rig.Rig, o Options) (Dialect, decoder, error) {
	const mostSkipped = 16
	for n := 0; ; n++ {
		b, whole := s.head()
		switch {
		case s.raw.err != nil:
			return Dialect{}, nil, s.raw.err
		case len(b) == 0 && s.cut != "":
			return Dialect{}, nil, errors.New(s.cut + " and nothing can be read: copy the log again")
		case len(b) == 0:
			return Dialect{}, nil, errors.New("the log is empty")
		}
		dialect, dec, err := recognise(newHead(b, whole, rg, o))
		if err == nil || whole || n == mostSkipped || bytes.IndexByte(b, '\n') >= 0 || hardlyText(b) {
			return dialect, dec, err
		}
		if err := s.nextLine(); err != nil {
			return Dialect{}, nil, err
		}
		rec.Account.Lines++
		rec.Account.damaged(tooLong, place(s.last.number, s.last.at), excerpt(s.last.text))
	}
}

// importer turns decoded records into a result, step by step.
type importer struct {
	rig     *rig.Rig
	options Options
	dialect Dialect
	shape   shape
	rec     *Records
	res     *Result
	modulus float64 // of a frame's stamp
	strict  bool

	gyro                bool
	accelUnit, gyroUnit string
	accelStep, gyroStep float64 // SI per unit of the log
	raw                 []int64
	timeUnit            string
	rawPerSecond        float64
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
	screenRange(im.rec, im.limit(im.rig.Sensor.AccelRangeG*dataset.StandardGravity, im.accelStep), im.limit(bearing.Rad(im.rig.Sensor.GyroRangeDPS), im.gyroStep))
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
// log's unit; a twentieth more is allowed for trimmed sensors. 0: unknown.
func (im *importer) limit(rangeSI, step float64) float64 {
	if rangeSI == 0 || step == 0 {
		return 0
	}
	return 1.05 * rangeSI / step
}

// enough refuses a log with no records or too many damaged ones.
func (im *importer) enough() error {
	a := &im.rec.Account
	n := int64(im.rec.Len())
	most := im.options.MaxDamagedShare
	if most == 0 {
		most = DefaultMaxDamagedShare
	}
	share := float64(a.Damaged) / float64(max(1, a.Damaged+n))
	if n >= 2 && share <= most {
		return nil
	}
	var kinds []string
	for _, r := range a.Repairs {
		kinds = append(kinds, fmt.Sprintf("%d %s (first at %s)", r.Count, strings.TrimPrefix(r.Kind, "damaged: "), r.First[0]))
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

// settleTime settles the time unit and scales the stamps. Where nothing
// states the unit, the rig's rate decides.
func (im *importer) settleTime() error {
	c, err := choose(ofTime, im.options.TimeUnit, im.shape.units[ofTime], im.rig.Log.TimeUnit)
	if err != nil {
		return err
	}
	try := []string{c.unit}
	if c.unit == "" {
		try = []string{im.dialect.time, "us", "ms", "s"}
	}
	nominal := im.rig.Sensor.RateHz
	var rate float64
	for _, u := range try {
		raw, perSecond := im.rec.stamps(u)
		if len(raw) < 2 {
			return errors.New("holds no two records with a time stamp in range")
		}
		period, _, _, err := rhythm(raw, im.moduliFor(perSecond, u))
		if err != nil {
			return fmt.Errorf("%v: the column of stamps must count time in us, ms or s", err)
		}
		if r := perSecond / period; rate == 0 || rateFits(r, nominal) {
			rate = r
			im.raw, im.rawPerSecond, im.timeUnit = raw, perSecond, u
		}
		if rateFits(rate, nominal) {
			break
		}
	}
	if !rateFits(rate, nominal) {
		return im.wrongRate(rate, c)
	}
	if c.unit == "" {
		im.res.Guessed = append(im.res.Guessed, fmt.Sprintf("time stamps are in %s: that makes %.4g Hz, the rig says %g", im.timeUnit, rate, nominal))
	}
	return nil
}

func rateFits(rateHz, nominalHz float64) bool {
	return nominalHz <= 0 || math.Abs(rateHz/nominalHz-1) <= 0.05
}

func (im *importer) wrongRate(rate float64, c chosen) error {
	nominal := im.rig.Sensor.RateHz
	for _, u := range []string{"us", "ms", "s"} {
		if other := rate * unitsPerSecond(u) / unitsPerSecond(im.timeUnit); u != im.timeUnit && rateFits(other, nominal) {
			return fmt.Errorf("samples come at %.5g Hz with time in %s (so %s says), but rig %s has rate_hz %g; in %s it would be %.5g Hz: say --time-unit %s", rate, im.timeUnit, c.from, im.rig.Key(), nominal, u, other, u)
		}
	}
	return fmt.Errorf("samples come at %.5g Hz, but rig %s has rate_hz %g: import with the rig file that this log was made on, or correct rate_hz", rate, im.rig.Key(), nominal)
}

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
// checks that it points up.
func (im *importer) settleAccel() error {
	c, err := choose(ofAccel, im.options.AccelUnit, im.shape.units[ofAccel], im.rig.Log.AccelUnit)
	if err != nil {
		return err
	}
	still := restOf([3][]float32(im.rec.Readings[:3]), im.rig.Sensor.RateHz, nil).mean
	size := math.Sqrt(still[0]*still[0] + still[1]*still[1] + still[2]*still[2])
	unit, guess, err := chooseAccel(c, im.dialect.accel, size, im.rig)
	if err != nil {
		return err
	}
	if guess != "" {
		im.res.Guessed = append(im.res.Guessed, guess)
	}
	im.accelUnit, im.accelStep = unit, accelScale(unit, im.rig)
	return upright(still, im.rig)
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

// repairClock repairs the stamps and refuses the records that have no place in
// time.
func (im *importer) repairClock() (*ClockReport, error) {
	im.raw, im.rawPerSecond = im.rec.stamps(im.timeUnit) // some records were refused since
	clock, err := RepairClock(Stamps{Raw: im.raw, PerSecond: im.rawPerSecond, Moduli: im.moduliFor(im.rawPerSecond, im.timeUnit), Strict: im.strict})
	if err != nil {
		return nil, err
	}
	n := len(im.raw)
	most := im.options.MaxDamagedShare
	if most == 0 {
		most = DefaultMaxDamagedShare
	}
	if bad := len(clock.Damaged) + clock.Restarts; float64(bad) > most*float64(n) {
		return nil, fmt.Errorf("%d of %d time stamps make no sense beside their neighbours (first at %s): check that the column of stamps is the right one and in a unit of time", bad, n, im.rec.where(clock.Damaged[0]))
	}
	a := &im.rec.Account
	for _, i := range clock.Damaged {
		if clock.Keep[i] {
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
	for _, r := range a.Repairs {
		if r.Kind == "time stamp put right from its neighbours" {
			s.DamagedStamps = r.Count
		}
	}
	s.Records, s.DamagedRecords, s.OtherLines, s.JunkBytes = s.Samples, a.Damaged, a.Other, a.Junk
	s.Repairs = a.Repairs
	if !rateFits(s.RateHz, s.NominalRateHz) {
		return im.wrongRate(s.RateHz, chosen{})
	}
	r := measure(s, sig, im.rig, im.clipMPS2())
	im.warn(s, sig, r)
	return nil
}

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
	if im.accelUnit != "counts" && len(im.rec.Decimals) > 0 {
		step = max(step, im.accelStep/powersOfTen[im.rec.Decimals[0]>>4&15])
	}
	return sensor.AccelRangeG*dataset.StandardGravity*(1-1e-6) - step // readings are float32
}

// warn adds the notes that follow from what was measured.
func (im *importer) warn(s *dataset.Session, sig *dataset.Signal, r rest) {
	size := 0.0
	for _, v := range s.StillMPS2 {
		size += v * v
	}
	g := math.Sqrt(size) / dataset.StandardGravity
	if !r.calm {
		im.note("the bag was never still: the quietest twentieth of the log stands in for rest")
	}
	if g < 0.95 || g > 1.05 {
		im.note(fmt.Sprintf("at rest the accelerometer reads %.3f g: its bias or scale is off by more than usual", g))
	}
	if s.HasGyro {
		g := restOf(sig.G, s.RateHz, nil)
		for k := range 3 {
			if dps := bearing.Deg(math.Abs(g.mean[k])); dps > 10 {
				im.note(fmt.Sprintf("at rest the gyroscope's %c axis reads %.1f degrees a second: is %s the right unit? (--gyro-unit)", "xyz"[k], dps, s.GyroUnit))
			}
		}
	}
}
