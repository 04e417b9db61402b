package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"strikerose/eval/advice"
)

// RigText writes a rig's sheet for a terminal, at most Width columns wide: a
// drawing to scale, then what follows from the file, then advice, then what
// the numbers rest on.
func RigText(w io.Writer, s *advice.Sheet) error {
	t := &rigWriter{s: s}
	b := s.Rig.Bag
	t.line("%s: a bag of %.4g kg, %.2f m long and %.2f m thick", s.Key, b.MassKg, b.LengthM, b.DiameterM)
	t.line("")
	for _, row := range drawRig(s, rowHeight(s)).withNotes() {
		t.line("%s", row)
	}
	t.line("")
	t.wrap("Heights are metres above the bag's bottom edge, depths metres below its top edge. Drawn to scale.", "")
	t.motion()
	t.mass()
	t.dead()
	t.errors()
	t.waits()
	t.depths()
	t.blow()
	t.advice()
	t.basis()
	_, err := io.WriteString(w, t.b.String())
	return err
}

// rigWriter writes the parts of a sheet.
type rigWriter struct {
	textWriter
	s *advice.Sheet
}

func (t *rigWriter) title(text string) {
	t.line("")
	t.line("%s", text)
}

func (t *rigWriter) motion() {
	t.title("Free motion")
	t.line("  %-9s%6s%11s  %-10s%9s", "", "Hz", "s a cycle", "", "dies in")
	about := map[string]string{"swing": "bag with its chain", "rocking": "bag against chain", "twist": "about the vertical"}
	for _, m := range t.s.Modes {
		t.line("  %-9s%6.2f%11.2f  %-10s%7.1f s  %-9s%s", m.Name, m.Hz, m.PeriodS, m.From, m.DecayS, m.DecayFrom, about[m.Name])
	}
	t.wrap("Computed: from the file. Measured: given under [motion]. Usual: neither, so that a usual value stands in. Dies in: to 37 %.", "  ")
}

func (t *rigWriter) mass() {
	m := t.s.Mass
	t.title("Spread of mass")
	t.line("  centre of mass       %.3f m below the top edge, at height %.3f m", m.CentreDepthM, m.CentreHeightM)
	t.line("  radius of gyration   %.3f m across the axis, about the centre of mass", m.GyrationM)
	t.line("  about its own axis   %.2f kg m²", m.TwistKgM2)
	if m.Estimated {
		t.line("  Estimated from core and filling, as the file does not give both.")
	} else {
		t.line("  Centre of mass and radius of gyration are as the file gives them.")
	}
}

func (t *rigWriter) dead() {
	t.title("Dead height")
	for _, p := range deadWords(t.s) {
		t.wrap(p, "  ")
	}
}

// deadWords says in sentences where blows do not move the sensor, and where
// they move it backwards.
func deadWords(s *advice.Sheet) []string {
	d := s.Dead
	if d.HeightM == nil {
		return []string{"None: the sensor sits at the centre of mass, and every blow kicks it away from the striker."}
	}
	if !d.OnBag {
		return []string{fmt.Sprintf("%.2f m, off the bag: every blow on it kicks the sensor away from the striker. Peak and arctangent never flips by it.", *d.HeightM)}
	}
	side := "below"
	if d.FlipToM >= s.Rig.Bag.LengthM {
		side = "above"
	}
	out := []string{fmt.Sprintf("%.3f m: a blow there turns the bag about the sensor, which at first does not move. Blows %s it kick the sensor toward the striker, and peak and arctangent flips: it points to the far side.", *d.HeightM, side)}
	var bands []string
	for _, b := range s.Bands {
		bands = append(bands, fmt.Sprintf("%s %.0f %%", b.Name, 100*b.FlipShare))
	}
	return append(out, fmt.Sprintf("It flips from %.2f to %.2f m, %.0f %% of the bag's length: %s. Between %.2f and %.2f m the kick is less than a tenth of that at the centre of mass.",
		d.FlipFromM, d.FlipToM, 100*d.FlipShare, strings.Join(bands, ", "), d.WeakFromM, d.WeakToM))
}

// unlike names the sensor that a sheet compares with.
func unlike(s *advice.Sheet) string {
	if s.Rig.HasGyro() {
		return "no gyroscope"
	}
	return "with gyroscope"
}

func (t *rigWriter) errors() {
	s := t.s
	t.title("Least error that any detector can reach: largest standard deviation in a band")
	t.line("%30s%-16s%-16s%s", "", "sensor's limit", "workable limit", "workable,")
	t.line("%62s%s", "", unlike(s))
	t.line("  %-10s%-11s%5s%8s%7s%9s%7s%9s%7s", "band", "heights, m", "flips", "deg", "cm", "deg", "cm", "deg", "cm")
	for i := len(s.Bands) - 1; i >= 0; i-- {
		b := s.Bands[i]
		t.line("  %-10s%-11s%3.0f %%%8s%7s%9s%7s%9s%7s", clip(b.Name, 9), fmt.Sprintf("%.2f-%.2f", b.FromM, b.ToM), 100*b.FlipShare,
			told(b.SensorLimit.BearingSDDeg, 1, 2), told(b.SensorLimit.HeightSDM, 100, 2),
			told(b.WorkableLimit.BearingSDDeg, 1, 1), told(b.WorkableLimit.HeightSDM, 100, 1),
			told(b.OtherSensor.BearingSDDeg, 1, 1), told(b.OtherSensor.HeightSDM, 100, 1))
	}
	t.wrap(gyroWords(s), "  ")
}

// gyroWords says what a gyroscope buys, or would buy.
func gyroWords(s *advice.Sheet) string {
	w := s.Whole
	without, with := w.OtherMisplaced, w.MisplacedShare
	slow, fast := w.OtherAfterS, w.AnswerAfterS
	verb := "The gyroscope buys"
	if !s.Rig.HasGyro() {
		without, with, slow, fast = with, without, fast, slow
		verb = "A gyroscope would buy"
	}
	out := fmt.Sprintf("%s: strikes on the wrong face or in the wrong band fall from %.1f to %.1f of 100", verb, 100*without, 100*with)
	if slow == nil && fast == nil {
		return out + "."
	}
	return out + fmt.Sprintf(", and the wait for %s from %s to %s.", toleranceWords(s), wait(slow), wait(fast))
}

func toleranceWords(s *advice.Sheet) string {
	return fmt.Sprintf("%.3g degrees and %.1f cm", s.Tolerance.BearingDeg, 100*s.Tolerance.HeightM)
}

func wait(s *float64) string {
	if s == nil {
		return "more than is looked at"
	}
	return fmt.Sprintf("%.0f ms", 1000**s)
}

// told writes a number that may not be told.
func told(x *float64, scale float64, digits int) string {
	if x == nil {
		return "none"
	}
	if v := *x * scale; v >= 999.5 {
		return ">999"
	} else if v >= 99.5 {
		digits = 0
	} else if v < 0.095 {
		digits = 2
	}
	return number(*x, scale, digits)
}

func (t *rigWriter) waits() {
	s := t.s
	t.title("Waiting: workable limit, largest along the bag, by time after the onset")
	head, bearing, height, lost := fmt.Sprintf("  %-12s", "ms"), fmt.Sprintf("  %-12s", "bearing, deg"), fmt.Sprintf("  %-12s", "height, cm"), fmt.Sprintf("  %-12s", "misplaced, %")
	for _, x := range s.Waits {
		if !shownWait(x.AfterS) {
			continue
		}
		head += fmt.Sprintf("%7.0f", 1000*x.AfterS)
		bearing += fmt.Sprintf("%7s", told(x.Error.BearingSDDeg, 1, 1))
		height += fmt.Sprintf("%7s", told(x.Error.HeightSDM, 100, 1))
		lost += fmt.Sprintf("%7s", number(x.MisplacedShare, 100, 1))
	}
	for _, l := range []string{head, bearing, height, lost} {
		t.line("%s", l)
	}
	words := fmt.Sprintf("%s are reached everywhere after %s.", strings.ToUpper(toleranceWords(s)[:1])+toleranceWords(s)[1:], wait(s.Whole.AnswerAfterS))
	if s.Whole.AnswerAfterS == nil {
		words = fmt.Sprintf("No wait looked at reaches %s everywhere.", toleranceWords(s))
	}
	t.wrap(words, "  ")
}

// shownWait picks the waits that fit in a line.
func shownWait(afterS float64) bool {
	ms := math.Round(1000 * afterS)
	return ms == 20 || ms == 40 || ms == 60 || ms == 100 || ms == 150 || ms == 200 || ms == 300 || ms == 400 || ms == 600
}

func (t *rigWriter) depths() {
	s := t.s
	const every = 5
	t.title("Sensor's depth: of 100 strikes, at the workable limit")
	head, lost, flips, clipped := fmt.Sprintf("  %-12s", "depth, m"), fmt.Sprintf("  %-12s", "misplaced"), fmt.Sprintf("  %-12s", "flips"), fmt.Sprintf("  %-12s", "clip if hard")
	for i, d := range s.Depths {
		if i%every != 0 {
			continue
		}
		mark := ""
		if !d.CanSit {
			mark = "*"
		}
		head += fmt.Sprintf("%6s", fmt.Sprintf("%.2f", d.DepthM)+mark)
		lost += fmt.Sprintf("%6s", number(d.MisplacedShare, 100, 1))
		flips += fmt.Sprintf("%6s", number(d.FlipShare, 100, 0))
		clipped += fmt.Sprintf("%6s", number(d.ClippedShare, 100, 0))
	}
	for _, l := range []string{head, lost, flips, clipped} {
		t.line("%s", l)
	}
	where := "clear of the bag's ends by 3 cm"
	if s.Rig.Core != nil {
		where += " and not below the core"
	}
	t.wrap(fmt.Sprintf("Now at %.2f m. Misplaced: on the wrong face or in the wrong band. Flips: by peak and arctangent. * A sensor should sit %s.", s.Rig.Sensor.DepthM, where), "  ")
}

func (t *rigWriter) blow() {
	s, w, b := t.s, t.s.Whole, t.s.Blow
	t.title("A hard blow against the sensor's ranges")
	t.wrap(fmt.Sprintf("%.0f N, %s, reads up to %.0f g; the accelerometer reads up to %g g, so that blows from %.0f N on can clip.", b.PeakN, b.PeakSource, w.HardestG, s.Rig.Sensor.AccelRangeG, w.ClipsFromN), "  ")
	if s.Rig.HasGyro() {
		t.wrap(fmt.Sprintf("Its %.1f N s turn the bag at up to %.0f degrees/s; the gyroscope reads up to %g.", b.ImpulseNs, w.TurnRadps*180/math.Pi, s.Rig.Sensor.GyroRangeDPS), "  ")
	}
	t.wrap(fmt.Sprintf("Its contact of %.0f ms holds %.1f samples at %g Hz.", 1000*b.ContactS, w.ContactSamples, s.Rig.Sensor.RateHz), "  ")
}

func (t *rigWriter) advice() {
	t.title("Advice, by strikes in 100 that it keeps from going wrong")
	if len(t.s.Advice) == 0 {
		t.line("  None: nothing in the file gains half a strike in 100.")
	}
	for i, a := range t.s.Advice {
		t.wrap(a.Do, fmt.Sprintf("%2d. ", i+1))
		t.wrap("Why: "+a.Because, "    ")
		t.wrap("Gain: "+a.Gain+".", "    ")
	}
}

func (t *rigWriter) basis() {
	a := t.s.Assumed
	noise := "as the file says"
	if !a.NoiseGiven {
		noise = "a usual value, as the file gives none"
	}
	t.title("What the least errors rest on")
	t.wrap(fmt.Sprintf("A strike of %g N s over %.0f ms; samples from %.0f ms before to %.0f ms after the onset; noise of %.3g m/s² (%s) and %.2g rad/s.",
		a.ImpulseNs, 1000*a.ContactS, 1000*a.BeforeS, 1000*a.AfterS, a.AccelNoiseMPS2, noise, a.GyroNoiseRadps), "  - ")
	t.wrap("Sensor's limit: the sensor's noise alone, on a stiff bag known exactly. Workable limit: noise for what that model leaves out, as seen on simulated recordings, and a rig measured by tape (centre of mass within 2 cm), at 400 Hz at most, as more buys nothing there.", "  - ")
	t.wrap("Both are Cramér-Rao bounds for flat blows: no detector without bias does better, real ones do worse. Beyond some 200 ms the gain is less than shown, as errors of the model hang together over time.", "  - ")
}
