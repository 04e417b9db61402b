package firmware

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"strikerose/dataset/rig"
	"strikerose/features/chain/board"
	"strikerose/models"
	"strikerose/models/firmware/answer"
)

// part is a feature as a board sums it: the mean over a stretch, times a scale,
// the mean before the onset taken off or not. The resting reading, gravity with
// it, is always taken off.
type part struct {
	source       int16
	fromMs, toMs float64
	scale        float64
	quiet        bool
}

// Times of features that bear none in their name, ms after the onset.
const (
	kickFromMs, kickToMs   = -3.0, 22.0
	tipFromMs, tipToMs     = 20.0, 32.0
	quietFromMs, quietToMs = -25.0, -5.0
	pulseFromMs, pulseToMs = -1.0, 25.0
)

// partOf tells how a board sums a feature. It errors on one that is no sum.
func partOf(name string) (part, error) {
	const kickS = (kickToMs - kickFromMs) / 1000
	switch name {
	case "kick":
		return part{source: answer.SourceAccel, fromMs: kickFromMs, toMs: kickToMs, scale: kickS}, nil
	case "lift":
		return part{source: answer.SourceUp, fromMs: kickFromMs, toMs: kickToMs, scale: kickS}, nil
	case "tip":
		return part{source: answer.SourceRock, fromMs: tipFromMs, toMs: tipToMs, scale: 1, quiet: true}, nil
	case "twist":
		return part{source: answer.SourceSpin, fromMs: tipFromMs, toMs: tipToMs, scale: 1, quiet: true}, nil
	}
	what, times, _ := strings.Cut(name, "_")
	p := part{scale: 1}
	switch what {
	case "accel":
		p.source = answer.SourceAccel
	case "rock":
		p.source = answer.SourceRock
	case "vertical":
		p.source = answer.SourceUp
	case "spin":
		p.source = answer.SourceSpin
	default:
		return part{}, fmt.Errorf("feature %s is no sum of samples, which is all that a board makes", name)
	}
	if times == "before" {
		p.fromMs, p.toMs = quietFromMs, quietToMs
		return p, nil
	}
	sign := 1.0
	if t, before := strings.CutSuffix(times, "_before"); before {
		times, sign = t, -1
	}
	from, to, ok := strings.Cut(times, "_")
	var err1, err2 error
	if rest, minus := strings.CutPrefix(from, "m"); minus {
		from = "-" + rest
	}
	p.fromMs, err1 = strconv.ParseFloat(from, 64)
	p.toMs, err2 = strconv.ParseFloat(to, 64)
	if !ok || err1 != nil || err2 != nil {
		return part{}, fmt.Errorf("feature %s is no sum of samples, which is all that a board makes", name)
	}
	p.fromMs, p.toMs, p.quiet = sign*p.fromMs, sign*p.toMs, true
	return p, nil
}

// numbers collects the table of a detector on one rig.
type numbers struct {
	plan  *board.Plan
	units board.Units
	table answer.Table
	rig   *rig.Rig

	stretches []span
	formA     [][6]float64 // weights of sums, Q4 counts
	formG     [][6]float64
	formZ     [][3]float64
	formS     [][2]float64
	floor     float64
	centreM   float64
	faults    []error
}

type span struct{ fromMs, toMs float64 }

// Positions of the forms in the weights; those of answer are not exported.
const (
	formFirst = iota
	formPush
	formTop
	formBottom
	formKick
	formCentre
)

// stretch gives the place of a stretch in the list, the quiet one always first.
func (n *numbers) stretch(fromMs, toMs float64) int {
	for i, s := range n.stretches {
		if s == (span{fromMs, toMs}) {
			return i
		}
	}
	n.stretches = append(n.stretches, span{fromMs, toMs})
	n.formA, n.formG = append(n.formA, [6]float64{}), append(n.formG, [6]float64{})
	n.formZ, n.formS = append(n.formZ, [3]float64{}), append(n.formS, [2]float64{})
	n.table.Stretches = append(n.table.Stretches, n.plan.Stretch(fromMs, toMs))
	return len(n.stretches) - 1
}

// perSum is what one sixteenth of a count in the sum over a stretch adds to its
// mean, SI.
func (n *numbers) perSum(at int, source int16) float64 {
	s := n.table.Stretches[at]
	unit := n.units.AccelMPS2
	if source == answer.SourceRock || source == answer.SourceSpin {
		unit = n.units.GyroRadps
	}
	return unit / 16 / (float64(s.Samples()) / 256)
}

// sums gives a feature's places and weights on its own sum and on the quiet one.
func (n *numbers) sums(name string) (p part, at int, own, quiet float64) {
	p, err := partOf(name)
	if err != nil {
		n.faults = append(n.faults, err)
		return p, 0, 0, 0
	}
	if (p.source == answer.SourceRock || p.source == answer.SourceSpin) && !n.rig.HasGyro() {
		n.faults = append(n.faults, fmt.Errorf("feature %s needs a gyroscope, and the rig has none: train on recordings of this rig", name))
		return p, 0, 0, 0
	}
	q := n.stretch(quietFromMs, quietToMs)
	at = n.stretch(p.fromMs, p.toMs)
	own = p.scale * n.perSum(at, p.source)
	if p.quiet {
		quiet = -p.scale * n.perSum(q, p.source)
	}
	return p, at, own, quiet
}

// vector adds a feature to a form.
func (n *numbers) vector(form int, name string, weight float64) {
	p, at, own, quiet := n.sums(name)
	to := n.formA
	switch p.source {
	case answer.SourceRock:
		to = n.formG
	case answer.SourceAccel:
	default:
		n.faults = append(n.faults, fmt.Errorf("feature %s is no vector", name))
		return
	}
	if len(to) == 0 {
		return
	}
	to[at][form] += weight * own
	to[0][form] += weight * quiet
}

// even adds a scalar to push, top or bottom.
func (n *numbers) even(form int, name string, weight float64) {
	p, at, own, quiet := n.sums(name)
	if p.source != answer.SourceUp || len(n.formZ) == 0 {
		n.faults = append(n.faults, fmt.Errorf("feature %s does not stay in a mirror", name))
		return
	}
	n.formZ[at][form] += weight * own
	n.formZ[0][form] += weight * quiet
}

// odd adds one that changes its sign in a mirror, to the push (0) or the early one
// (1).
func (n *numbers) odd(to int, name string, weight float64) {
	p, at, own, quiet := n.sums(name)
	if p.source != answer.SourceSpin || len(n.formS) == 0 {
		n.faults = append(n.faults, fmt.Errorf("feature %s does not change its sign in a mirror", name))
		return
	}
	n.formS[at][to] += weight * own
	n.formS[0][to] += weight * quiet
}

func q20(x float64) int32 { return toInt32(x * (1 << 20)) }

func toInt32(x float64) int32 {
	return int32(math.Min(math.Max(math.Round(x), math.MinInt32+1), math.MaxInt32))
}

// largestSum bounds a sum over a stretch, Q4 counts: refilled readings go to
// 2.2 times the limit, the turn to the bag's axes adds up to the square root of
// three, and the sum itself is held to 32 bits.
func (n *numbers) largestSum(at int) float64 {
	s := n.table.Stretches[at]
	return math.Min(math.MaxInt32, float64(s.Samples())/256*16*2.2*32768*2)
}

// close brings the forms' weights to integers: with so many bits that no sum of
// theirs can reach 2^61, and none of them 2^31.
func (n *numbers) close() {
	t := &n.table
	var sums [11]float64
	largest := 1e-30
	for i := range n.stretches {
		most := n.largestSum(i)
		for f := range 6 {
			sums[f] += most * (math.Abs(n.formA[i][f]) + math.Abs(n.formG[i][f]))
			largest = math.Max(largest, math.Max(math.Abs(n.formA[i][f]), math.Abs(n.formG[i][f])))
		}
		for f := range 3 {
			sums[6+f] += most * math.Abs(n.formZ[i][f])
			largest = math.Max(largest, math.Abs(n.formZ[i][f]))
		}
		for f := range 2 {
			sums[9+f] += most * math.Abs(n.formS[i][f])
			largest = math.Max(largest, math.Abs(n.formS[i][f]))
		}
	}
	bits := math.Floor(math.Log2((1 << 30) / largest))
	for _, s := range sums {
		if s > 0 {
			bits = math.Min(bits, math.Floor(math.Log2((1<<61)/s)))
		}
	}
	bits = math.Min(math.Max(bits, 20), 20+62)
	t.FormShift = int32(bits) - 20
	unit := math.Exp2(bits)
	for i := range n.stretches {
		var a, g [6]int32
		var z [3]int32
		for f := range 6 {
			a[f], g[f] = toInt32(n.formA[i][f]*unit), toInt32(n.formG[i][f]*unit)
		}
		for f := range 3 {
			z[f] = toInt32(n.formZ[i][f] * unit)
		}
		t.FormA, t.FormG, t.FormZ = append(t.FormA, a), append(t.FormG, g), append(t.FormZ, z)
		t.FormS = append(t.FormS, [2]int32{toInt32(n.formS[i][0] * unit), toInt32(n.formS[i][1] * unit)})
	}
}

// setHeight sets the height of the centre of mass and the least denominator.
func (n *numbers) setHeight(centreM, floor float64) {
	n.centreM, n.floor = centreM, floor
	n.table.Centre, n.table.Floor = toInt32(centreM*16000), toInt32(floor*65536)
}

// ratio sets the forms of a ratio.
func (n *numbers) ratio(r *models.Ratio) {
	for k, name := range r.Vectors {
		n.vector(formFirst, name, r.First[k])
		n.vector(formPush, name, r.Push[k])
		n.vector(formTop, name, r.Top[k])
		n.vector(formBottom, name, r.Bottom[k])
	}
	for k, name := range r.Even {
		n.even(0, name, r.PushEven[k])
		n.even(1, name, r.TopEven[k])
		n.even(2, name, r.BottomEven[k])
	}
	for k, name := range r.Odd {
		n.odd(0, name, r.PushOdd[k])
	}
	n.setHeight(r.CentreM, r.FloorShare)
	n.table.HasHeight = 1
}

// moved sets the forms that say how hard the strike moved the bag, and with them
// the early answer.
func (n *numbers) moved() {
	n.vector(formKick, "kick", 1)
	n.table.Sooner = answer.EarlyKick
	if n.rig.HasGyro() && n.table.Chain.Gyro != 0 {
		k := models.ConstantsOf(n.rig)
		n.vector(formCentre, "kick", 1)
		n.vector(formCentre, "tip", -k.SensorAboveCentreM())
		n.odd(1, "twist", -k.TwistKgM2/(k.MassKg*k.RadiusM))
		n.table.Sooner = answer.EarlyCentre
	}
}

// kickDirection sets the forms of the rule: against the centre of mass's velocity
// change, turned by the angle whose sine the twist gives; without a gyroscope
// against the sensor's.
func (n *numbers) kickDirection() {
	n.moved()
	t := &n.table
	k := models.ConstantsOf(n.rig)
	n.setHeight(k.CentreHeightM(), 1)
	n.vector(formPush, "kick", -1)
	if t.Sooner != answer.EarlyCentre {
		return
	}
	n.vector(formPush, "tip", k.SensorAboveCentreM())
	n.vector(formTop, "tip", -k.RadiusOfGyrationM*k.RadiusOfGyrationM)
	n.odd(0, "twist", -k.TwistKgM2/(k.MassKg*k.RadiusM))
	t.Sine, t.HasHeight = 1, 1
}
