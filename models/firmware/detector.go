package firmware

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/models"
	"strikerose/models/golearn"
)

type treeNode = golearn.Node

// source is what an export reads of a detector.
type source struct {
	name       string
	form       string // where the family has several
	parameters any    // *models.PeakArctangent, *models.Ratio, *models.Accelerometer or *models.Cart
	waitMs     float64
	yawDeg     float64
	yawKnown   bool
	certainty  models.Stated
	scores     []models.Score
}

// sourceOf reads a detector, or says why it cannot be exported.
func sourceOf(m *models.Model, r *rig.Rig) (source, error) {
	s := source{
		name: m.Info().Name, parameters: m.Parameters(), waitMs: m.Info().WaitMs,
		certainty: m.CertaintyFor(r), scores: m.Scores,
	}
	s.yawDeg, s.yawKnown = m.YawDeg(r.Key())
	s.yawDeg = bearing.Wrap180(s.yawDeg)
	switch p := s.parameters.(type) {
	case *models.PeakArctangent, *models.Cart:
	case *models.Pendulum:
		s.parameters = p.Ratio(r)
	case *models.ComplexRidge:
		s.form = p.Form
		s.parameters = p.Accelerometer
		if ratio := p.Ratio(r); ratio != nil {
			s.parameters = ratio
		}
	default:
		why := m.Info().NotBoard
		if why == "" {
			why = "no C is written for it"
		}
		return source{}, fmt.Errorf("export: %s cannot be exported: %s: train one of %s", s.name, why, strings.Join(Detectors(), ", "))
	}
	return s, nil
}

// describe turns a detector on one rig into a program.
func describe(s source, r *rig.Rig) (*program, error) {
	if r.Faces < 1 {
		return nil, fmt.Errorf("export: rig %s: has %d faces: mend the rig file", r.Key(), r.Faces)
	}
	b := &builder{gyro: r.HasGyro(), waitMs: s.waitMs}
	switch p := s.parameters.(type) {
	case *models.PeakArctangent:
		b.peakArctangent(r)
	case *models.Ratio:
		b.ridge(p, r)
	case *models.Accelerometer:
		b.accelerometer(p, r)
	case *models.Cart:
		b.cart(p, r)
	}
	if len(b.faults) == 0 { // else the inputs may be incomplete
		b.finish(s, r)
	}
	if len(b.faults) > 0 {
		return nil, fmt.Errorf("export: %s on rig %s: %w", s.name, r.Key(), errors.Join(b.faults...))
	}
	return &b.program, nil
}

// clean takes the features that the answer needs and opens the steps: what is
// no number, or beyond reason, counts as 0.
func (b *builder) clean(names ...string) {
	b.take(names...)
	b.needed = len(b.inputs)
	b.add(
		remark("A value that is no number, or beyond what any sensor reads, counts as 0. Where the answer needs it, the answer is a guess."),
		flag("whole", whole(1)),
		room{"value", featuresSize},
		loop{"k", named(featuresSize), []step{
			set(element("value", named("k")), element("feature", named("k"))),
			when{is: not(atMost(absolute(element("feature", named("k"))), number(models.LargestValue))), then: []step{
				set(element("value", named("k")), number(0)),
				when{is: less(named("k"), named(neededSize)), then: []step{setVar("whole", whole(0))}},
			}},
		}},
	)
}

func (b *builder) peakArctangent(r *rig.Rig) {
	b.clean("peak")
	if len(b.faults) > 0 {
		return
	}
	b.scalar("MIDDLE_M", "m", r.Bag.LengthM/2, "height stated where none is measured: the middle of the bag")
	b.add(
		remark("The bearing lies against the largest push."),
		variable("q_x", negative(b.x("peak"))),
		variable("q_y", negative(b.y("peak"))),
		variable("height_m", named("MIDDLE_M")),
		when{is: both(equals(named("q_x"), number(0)), equals(named("q_y"), number(0))), then: []step{setVar("whole", whole(0))}},
	)
}

// ridge describes the complex ridge with a gyroscope on one rig.
func (b *builder) ridge(ratio *models.Ratio, r *rig.Rig) {
	b.clean(concat(ratio.Vectors, ratio.Odd, ratio.Even)...)
	if len(b.faults) > 0 {
		return
	}
	b.ratio(ratio)
	b.ratioHeight(ratio)
	b.scalar("MIDDLE_M", "m", r.Bag.LengthM/2, "height stated where none is measured: the middle of the bag")
	tip := element("feature", named(b.inputs[b.place("tip")].cName()))
	b.add(
		remark("A gyroscope that gives nothing leaves the kick's direction."),
		variable("q_x", named("ratio_x")), variable("q_y", named("ratio_y")),
		when{is: both(not(named("whole")), differs(tip, tip)), then: []step{
			setVar("q_x", negative(b.x("kick"))),
			setVar("q_y", negative(b.y("kick"))),
			setVar("height_m", named("MIDDLE_M")),
		}},
	)
}

func concat(lists ...[]string) []string {
	var out []string
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

// finish turns the direction q, the height and whether the answer is whole into
// what is stated: models.Model.Estimate in steps.
func (b *builder) finish(s source, r *rig.Rig) {
	b.scalar("DEGREES", "deg/rad", 180/math.Pi, "degrees in a radian")
	b.scalar("YAW_DEG", "deg", s.yawDeg, "yaw offset of the rig, learned from labels, added to every bearing")
	b.scalar("FACE_DEG", "deg", 360/float64(r.Faces), "width of a face")
	b.scalar("HALF_FACE_DEG", "deg", 180/float64(r.Faces), "half of it")
	b.scalar("LENGTH_M", "m", r.Bag.LengthM, "length of the bag")
	b.size("FACES", r.Faces, "faces of the bag")
	b.scalar("BEARING_SD_DEG", "deg", s.certainty.BearingSDDeg, "circular standard deviation of a usual strike's bearing")
	b.scalar("BEARING_HALF90_DEG", "deg", s.certainty.BearingHalf90Deg, "half of its 90 % interval")
	b.scalar("HEIGHT_SD_M", "m", s.certainty.HeightSDM, "standard deviation of the height")
	b.scalar("HEIGHT_HALF90_M", "m", s.certainty.HeightHalf90M, "half of its 90 % interval")
	b.scalar("WEAKEST_KICK_MPS", "m/s", models.WeakestKickMPS, "a weaker strike is unsure")

	b.add(
		remark("The bearing of q, clockwise from +y, in [0, 360)."),
		variable("bearing_deg", add(mul(arctan(named("q_x"), named("q_y")), named("DEGREES")), named("YAW_DEG"))),
		when{is: not(atMost(absolute(named("bearing_deg")), number(720))), then: []step{
			setVar("bearing_deg", number(0)), setVar("whole", whole(0)),
		}},
		when{is: less(named("bearing_deg"), number(0)), then: []step{addTo(named("bearing_deg"), number(360))}},
		when{is: atLeast(named("bearing_deg"), number(360)), then: []step{setVar("bearing_deg", sub(named("bearing_deg"), number(360)))}},
	)
	b.add(remark("How sure."))
	scale := b.difficulty(s.certainty.Difficulty)
	scaled := func(name string) expr {
		if scale == nil {
			return named(name)
		}
		return mul(named(name), *scale)
	}
	b.add(
		variable("bearing_sd_deg", scaled("BEARING_SD_DEG")),
		variable("bearing_half90_deg", scaled("BEARING_HALF90_DEG")),
		variable("height_sd_m", named("HEIGHT_SD_M")),
		variable("height_half90_m", named("HEIGHT_HALF90_M")),
	)
	if sd := s.certainty.MountSDDeg; sd > 0 {
		b.scalar("MOUNT_SD_DEG", "deg", sd, "how far the mount of a rig without labels may be turned, standard deviation")
		b.scalar("MOUNT_HALF90_DEG", "deg", 1.645*sd, "half of its 90 % interval")
		b.add(
			setVar("bearing_sd_deg", hypotn(named("bearing_sd_deg"), named("MOUNT_SD_DEG"))),
			setVar("bearing_half90_deg", hypotn(named("bearing_half90_deg"), named("MOUNT_HALF90_DEG"))),
		)
	}
	if least := s.certainty.Least; least != (models.Certainty{}) {
		b.scalar("LEAST_SD_DEG", "deg", least.BearingSDDeg, "least standard deviation of a bearing on a rig with too few labels to measure it")
		b.scalar("LEAST_HALF90_DEG", "deg", least.BearingHalf90Deg, "half of its 90 % interval")
		b.scalar("LEAST_SD_M", "m", least.HeightSDM, "likewise of a height")
		b.scalar("LEAST_HALF90_M", "m", least.HeightHalf90M, "half of its 90 % interval")
		b.add(
			setVar("bearing_sd_deg", larger(named("bearing_sd_deg"), named("LEAST_SD_DEG"))),
			setVar("bearing_half90_deg", larger(named("bearing_half90_deg"), named("LEAST_HALF90_DEG"))),
			setVar("height_sd_m", larger(named("height_sd_m"), named("LEAST_SD_M"))),
			setVar("height_half90_m", larger(named("height_half90_m"), named("LEAST_HALF90_M"))),
		)
	}
	b.scalar("GUESS_SD_DEG", "deg", 100, "least standard deviation of a bearing that is a guess")
	b.scalar("GUESS_SD_M", "m", r.Bag.LengthM/math.Sqrt(12), "likewise of a height: anywhere on the bag")
	b.scalar("GUESS_HALF90_M", "m", r.Bag.LengthM/2, "half of its 90 % interval")
	b.add(
		when{is: not(named("whole")), then: []step{
			setVar("bearing_sd_deg", larger(named("bearing_sd_deg"), named("GUESS_SD_DEG"))),
			setVar("bearing_half90_deg", number(180)),
			setVar("height_sd_m", larger(named("height_sd_m"), named("GUESS_SD_M"))),
			setVar("height_half90_m", larger(named("height_half90_m"), named("GUESS_HALF90_M"))),
		}},
		setVar("bearing_half90_deg", smaller(named("bearing_half90_deg"), number(180))),
	)
	b.kick()
	guess := not(named("whole"))
	wide := more(named("bearing_half90_deg"), named("HALF_FACE_DEG"))
	weak := less(named("kick_mps"), named("WEAKEST_KICK_MPS"))
	out := func(field string, v expr) step { return setVar("answer->"+field, v) }
	b.add(
		remark("The answer."),
		out("bearing_deg", named("bearing_deg")),
		out("height_m", named("height_m")),
		out("bearing_sd_deg", named("bearing_sd_deg")),
		out("bearing_half90_deg", named("bearing_half90_deg")),
		out("height_sd_m", named("height_sd_m")),
		out("height_half90_m", named("height_half90_m")),
		out("face", add(remain(toInt(div(add(named("bearing_deg"), named("HALF_FACE_DEG")), named("FACE_DEG"))), named("FACES")), whole(1))),
		out("unsure", either(guess, wide, weak)),
	)
}

// kick measures how hard the strike moved the bag.
func (b *builder) kick() {
	b.add(remark("How hard the strike moved the bag: the sensor, or the centre of mass."), variable("kick_mps", number(0)))
	for _, n := range []string{"kick", "centre_kick"} {
		if b.offer(n) {
			b.add(setVar("kick_mps", larger(named("kick_mps"), hypotn(b.x(n), b.y(n)))))
		}
	}
}

// difficulty scales the bearing's figures strike by strike; nil where all are
// alike.
func (b *builder) difficulty(d *models.Difficulty) *expr {
	if d == nil {
		return nil
	}
	terms := map[string]struct {
		feature string
		of      func() expr
	}{
		"log peak":         {"peak", func() expr { return logn(add(number(1), hypotn(b.x("peak"), b.y("peak")))) }},
		"log swing before": {"swing_before", func() expr { return logn(add(number(1), absolute(b.s("swing_before")))) }},
		"vertical ratio":   {"vertical_ratio", func() expr { return smaller(absolute(b.s("vertical_ratio")), number(2)) }},
		"oblique":          {"oblique", func() expr { return smaller(absolute(b.s("oblique")), number(1)) }},
		"curved":           {"rectilinearity", func() expr { return sub(number(1), between(number(0), b.s("rectilinearity"), number(1))) }},
	}
	over := []string{b.size("TERMS", len(d.Terms), "terms of the difficulty").name}
	b.floats("DIFFICULTY_WEIGHT", "1", over, d.Weights, "of "+strings.Join(d.Terms, ", "))
	b.floats("DIFFICULTY_MEAN", "1", over, d.Mean, "what the terms usually are")
	b.scalar("DIFFICULTY_LOW", "1", d.Low, "least difficulty")
	b.scalar("DIFFICULTY_HIGH", "1", d.High, "largest difficulty")
	b.add(variable("log_scale", number(0)))
	for i, name := range d.Terms {
		term, ok := terms[name]
		if !ok {
			b.fault("the difficulty's term %q is unknown", name)
			return nil
		}
		x := number(0)
		if b.offer(term.feature) {
			x = term.of()
		} else if name == "curved" {
			x = number(1)
		}
		at := whole(i)
		b.add(addTo(named("log_scale"), mul(element("DIFFICULTY_WEIGHT", at), sub(x, element("DIFFICULTY_MEAN", at)))))
	}
	b.add(fixed("scale", between(named("DIFFICULTY_LOW"), exponent(named("log_scale")), named("DIFFICULTY_HIGH"))))
	scale := named("scale")
	return &scale
}
