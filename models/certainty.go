package models

import (
	"math"
	"slices"

	"strikerose/dataset/bearing"
)

// Certainty is how far answers are from the truth, as stated beside each.
type Certainty struct {
	Calibrated       bool    `json:"calibrated"` // measured on labelled strikes that were held back
	How              string  `json:"how"`
	Strikes          int     `json:"strikes"`
	Sessions         int     `json:"sessions"`
	BearingSDDeg     float64 `json:"bearing_sd_deg"` // circular, sqrt(-2 ln R), of what is no flip
	BearingHalf90Deg float64 `json:"bearing_half90_deg"`
	HeightSDM        float64 `json:"height_sd_m"`
	HeightHalf90M    float64 `json:"height_half90_m"`
	// FlipShare is the share of flips, beyond those that the core tells of.
	FlipShare float64 `json:"flip_share,omitempty"`
	// Risk is the chance of a wrong face from which a strike is unsure; 0 is
	// UsualRisk.
	Risk float64 `json:"risk,omitempty"`
	// Difficulties scale the figures strike by strike; nil does not.
	Difficulty       *Difficulty `json:"difficulty,omitempty"` // of the bearing
	HeightDifficulty *Difficulty `json:"height_difficulty,omitempty"`
}

// Difficulty guesses from a strike's features how much farther than usual its
// answer may be off: exp(sum Weights_k (x_k - Mean_k)), held to Low and High.
type Difficulty struct {
	Terms   []string  `json:"terms"`
	Weights []float64 `json:"weights"`
	Mean    []float64 `json:"mean"`
	Low     float64   `json:"low"`
	High    float64   `json:"high"`
}

// residual is a held-back strike's error.
type residual struct {
	in         Input
	session    string
	told       doubt // by the core; usual where it tells nothing
	harder     float64
	harderM    float64 // difficulties by what the other strikes teach, 1 where all count alike
	bearingDeg float64
	heightM    float64
	answeredM  float64 // the height that was answered
	labelSDDeg float64 // the label's own uncertainty, as stated
	labelSDM   float64
}

// flipped tells whether the bearing is off by a flip.
func (r residual) flipped() bool { return math.Abs(r.bearingDeg) > flipDeg }

// flipDeg is the size of bearing error beyond which an answer is a flip.
const flipDeg = 120

// size is the bearing's error over the half-width that it would be given at a
// figure of 1.
func (r residual) size() float64 {
	return math.Abs(r.bearingDeg) / (r.told.bearing * flipWider(r.told.flip) * r.harder)
}

// sizeM is likewise of the height.
func (r residual) sizeM() float64 { return math.Abs(r.heightM) / (r.told.height * r.harderM) }

// Least strikes to state a measured certainty, and to scale it: of fewer than
// nine, not even the largest error holds nine tenths of what is to come (see
// upper); five weights want ten strikes and more each.
const (
	leastToCalibrate = 9
	leastToScale     = 60
	share90          = 0.9
)

// statedFeatures are what the certainty beside every answer reads.
func statedFeatures() []string {
	return []string{"peak", "kick", "centre_kick", "swing_before", "vertical_ratio", "oblique", "rectilinearity"}
}

// difficultyTerms are the names of what difficultyOf returns.
func difficultyTerms() []string {
	return []string{"log peak", "log swing before", "vertical ratio", "oblique", "curved", "above middle", "from middle"}
}

// difficultyOf returns the terms of one strike, with the height that the
// detector answers.
func difficultyOf(in Input, heightM float64) []float64 {
	value := func(name string) float64 { v, _ := sane(in.Row.Scalar(name)); return v }
	z, _ := vectors(in.Row, []string{"peak"}, nil)
	above := math.Min(math.Max(heightM/in.Rig.Bag.LengthM-0.5, -0.5), 0.5)
	return []float64{
		math.Log(1 + math.Sqrt(size2(z[0]))),
		math.Log(1 + math.Abs(value("swing_before"))),
		math.Min(math.Abs(value("vertical_ratio")), 2),
		math.Min(math.Abs(value("oblique")), 1),
		1 - math.Min(math.Max(value("rectilinearity"), 0), 1),
		above, math.Abs(above),
	}
}

// scale is the strike's difficulty, 1 for a usual one.
func (d *Difficulty) scale(in Input, heightM float64) float64 {
	if d == nil {
		return 1
	}
	var s float64
	for k, x := range difficultyOf(in, heightM) {
		s += d.Weights[k] * (x - d.Mean[k])
	}
	if f := math.Exp(s); f < d.High {
		return math.Max(f, d.Low)
	}
	return d.High
}

// calibrate turns held-back errors into a certainty. Lands says that the
// detector's errors are independent of the labels'. Where a difficulty scales
// the errors, their own factors are set.
//
// The intervals are conformal: the errors of held-back strikes, each over what
// the strike would be given, put their ninth tenth at the factor that all
// intervals are multiplied by (normalised inductive conformal prediction:
// Papadopoulos, Gammerman and Vovk 2008; over folds: Vovk 2015, from memory).
func calibrate(res []residual, how string, lands bool) Certainty {
	c := Certainty{How: how, Strikes: len(res)}
	sessions := map[string]bool{}
	for _, r := range res {
		sessions[r.session] = true
	}
	c.Sessions = len(sessions)
	c.Calibrated = len(res) >= leastToCalibrate
	if !c.Calibrated {
		return c
	}
	if len(res) >= leastToScale {
		c.Difficulty = learnDifficulty(res, bearingSide)
		c.HeightDifficulty = learnDifficulty(res, heightSide)
	}
	c.BearingHalf90Deg = math.Min(upper(sizes(res, residual.size), share90), 180)
	c.HeightHalf90M = upper(sizes(res, residual.sizeM), share90)
	c.measureSpread(res)
	if lands {
		c.takeOffLabels(res)
	}
	return c
}

// measureSpread sets standard deviations and the share of flips. The bearing's
// is about zero, not about the errors' mean: a bias is an error too.
func (c *Certainty) measureSpread(res []residual) {
	n := float64(len(res))
	var cos, near, sum2 float64
	for _, r := range res {
		c.FlipShare -= r.told.flip / n
		if r.flipped() {
			c.FlipShare += 1 / n
		} else {
			cos += math.Cos(bearing.Rad(r.bearingDeg / (r.told.bearing * r.harder)))
			near++
		}
		sum2 += math.Pow(r.sizeM(), 2)
	}
	c.FlipShare = math.Min(math.Max(c.FlipShare, 0), mostFlipShare)
	c.BearingSDDeg = bearing.SDDeg(math.Max(cos/math.Max(near, 1), 1e-6))
	c.HeightSDM = math.Sqrt(sum2 / n)
}

// mostFlipShare keeps the two directions of a bearing apart: with half of all
// turned round, nothing would be left to say of either.
const mostFlipShare = 0.499

// takeOffLabels takes the labels' own uncertainty off: an error against a label
// is the detector's and the label's together, and their variances add where they
// are independent. At least a third of the error is left to the detector.
func (c *Certainty) takeOffLabels(res []residual) {
	var b, h, labelB, labelH float64
	for _, r := range res {
		if !r.flipped() {
			b += r.bearingDeg * r.bearingDeg
		}
		h += r.heightM * r.heightM
		labelB += r.labelSDDeg * r.labelSDDeg
		labelH += r.labelSDM * r.labelSDM
	}
	if labelB == 0 && labelH == 0 {
		return
	}
	left := func(variance, label float64) float64 {
		if !(variance > 0) {
			return 1
		}
		return math.Sqrt(math.Max(variance-label, variance/9) / variance)
	}
	s := left(b, labelB)
	c.BearingSDDeg, c.BearingHalf90Deg = c.BearingSDDeg*s, c.BearingHalf90Deg*s
	s = left(h, labelH)
	c.HeightSDM, c.HeightHalf90M = c.HeightSDM*s, c.HeightHalf90M*s
	c.How += ", the labels' own stated uncertainty taken off"
}

// leastPerRig is how many held-back strikes of a rig it takes to state its own
// doubt, if that is smaller than that of all: the ninth tenth of fewer is an
// accident of three strikes.
const leastPerRig = 30

// perRig sets each rig's factors: some rigs are harder than others, and an
// interval that holds for all together would not hold for each. Few strikes can
// raise a doubt but not lower it.
func (c *Certainty) perRig(rigs []RigYaw, res []residual) {
	angle, height := map[string][]float64{}, map[string][]float64{}
	var allAngle, allHeight []float64
	for _, r := range res {
		k := r.in.Rig.Key()
		a, h := r.size(), r.sizeM()
		angle[k], height[k] = append(angle[k], a), append(height[k], h)
		allAngle, allHeight = append(allAngle, a), append(allHeight, h)
	}
	for i := range rigs {
		y := &rigs[i]
		n := len(angle[y.Rig])
		if n == 0 {
			continue
		}
		y.BearingFactor = share(upper(angle[y.Rig], share90), upper(allAngle, share90))
		y.HeightFactor = share(upper(height[y.Rig], share90), upper(allHeight, share90))
		if n < leastPerRig {
			y.BearingFactor, y.HeightFactor = math.Max(y.BearingFactor, 1), math.Max(y.HeightFactor, 1)
		}
	}
}

// share is a over b, held to a tenth and ten; 1 where b vanishes.
func share(a, b float64) float64 {
	if !(b > 0) {
		return 1
	}
	return math.Min(math.Max(a/b, 0.1), 10)
}

// sizes lists one number of each error.
func sizes(res []residual, of func(residual) float64) []float64 {
	out := make([]float64, len(res))
	for i, r := range res {
		out[i] = of(r)
	}
	return out
}

// upper is the value that a share of the sizes does not exceed, counted so that
// one more strike of the same kind would keep within it (the finite-sample
// rank of conformal prediction: Vovk, Gammerman and Shafer 2005).
func upper(sizes []float64, share float64) float64 {
	s := slices.Clone(sizes)
	slices.Sort(s)
	rank := int(math.Ceil(share * float64(len(s)+1)))
	return s[min(max(rank, 1), len(s))-1]
}

// side is bearing or height, for what is done to both alike.
type side struct {
	size  func(residual) float64
	half  func(residual) float64   // half-width at a figure of 1
	set   func(*residual, float64) // its difficulty
	least float64                  // keeps the logarithm of a lucky hit from outweighing the others
	most  float64                  // half-width of what may be anywhere
}

var bearingSide = side{
	size:  residual.size,
	half:  func(r residual) float64 { return r.told.bearing * flipWider(r.told.flip) * r.harder },
	set:   func(r *residual, f float64) { r.harder = f },
	least: 0.2, most: 180, // degrees
}

var heightSide = side{
	size:  residual.sizeM,
	half:  func(r residual) float64 { return r.told.height * r.harderM },
	set:   func(r *residual, f float64) { r.harderM = f },
	least: 0.002, most: math.Inf(1), // metres
}

// learnDifficulty fits a difficulty to the errors and sets their own factors,
// or returns nil and sets none. It must better the interval score of errors
// that it was not fitted to.
func learnDifficulty(res []residual, s side) *Difficulty {
	scaled := crossScaled(res, s)
	d := fitDifficulty(res, s)
	if d == nil || intervalScore(scaled, s) >= intervalScore(res, s) {
		return nil
	}
	copy(res, scaled)
	return d
}

// intervalScore is the mean interval score of intervals of several levels, each
// counted with one less its level, halved: (1 - level) times the half-width,
// and what an error lies beyond it (Gneiting and Raftery 2007, Journal of the
// American Statistical Association 102:359-378, equation 43; Bracher, Ray,
// Gneiting and Reich 2021, from memory, for the weights). It rewards intervals
// that are narrow where errors are small and wide where they are large; several
// levels, because a single one may lie where flips begin, and jumps there.
func intervalScore(res []residual, s side) float64 {
	size := sizes(res, s.size)
	var sum float64
	for _, level := range []float64{0.5, 0.6, 0.7, 0.8, share90} {
		q := upper(size, level)
		for i, r := range res {
			unit := s.half(r)
			half := math.Min(q*unit, s.most)
			sum += (1-level)*half + math.Max(size[i]*unit-half, 0)
		}
	}
	return sum
}

// difficultyParts is how many parts of the strikes are scaled in turn by what
// the others teach. Few would make the difficulties of the parts poorer than
// that of all, and intervals too wide.
const difficultyParts = 10

// crossScaled returns the errors with the factor of each by a difficulty that
// was fitted without its part: one fitted to the very errors that it divides
// would make them smaller than those to come.
func crossScaled(res []residual, s side) []residual {
	out := slices.Clone(res)
	for part := range difficultyParts {
		var rest []residual
		for i, r := range res {
			if i%difficultyParts != part {
				rest = append(rest, r)
			}
		}
		d := fitDifficulty(rest, s)
		for i := part; i < len(res); i += difficultyParts {
			s.set(&out[i], d.scale(res[i].in, res[i].answeredM))
		}
	}
	return out
}

// fitDifficulty regresses the logarithm of the error's size on the terms, and is
// nil where that has no solution. Of its round numbers, strength counts as ten
// strikes without any trend, and low and high bound what a strike unlike all
// others may be given.
func fitDifficulty(res []residual, s side) *Difficulty {
	const strength, low, high = 10.0, 0.4, 4.0
	terms := difficultyTerms()
	d := &Difficulty{Terms: terms, Mean: make([]float64, len(terms)), Weights: make([]float64, len(terms)), Low: low, High: high}
	x := make([][]float64, len(res))
	y := make([]float64, len(res))
	var meanY float64
	for i, r := range res {
		x[i] = difficultyOf(r.in, r.answeredM)
		y[i] = math.Log(s.size(r) + s.least)
		meanY += y[i] / float64(len(res))
		for k, v := range x[i] {
			d.Mean[k] += v / float64(len(res))
		}
	}
	spread := make([]float64, len(terms)) // all terms count alike, whatever their unit
	for i := range x {
		y[i] -= meanY
		for k := range x[i] {
			x[i][k] -= d.Mean[k]
			spread[k] += x[i][k] * x[i][k] / float64(len(res))
		}
	}
	for k := range spread {
		spread[k] = math.Max(math.Sqrt(spread[k]), 1e-6)
		for i := range x {
			x[i][k] /= spread[k]
		}
	}
	w, err := ridge(x, y, strength)
	if err != nil {
		return nil
	}
	for k := range w {
		w[k] /= spread[k]
	}
	d.Weights = w
	return d
}

// flipWider is how much wider the 90 % interval of a bearing is for the
// probability of a flip, as if normal: of the near side alone it must then hold
// more than nine tenths. From one in ten on, no interval on the near side does.
func flipWider(share float64) float64 {
	const anywhere = 1e3
	if share >= 1-share90 {
		return anywhere
	}
	return math.Min(math.Erfinv(share90/(1-share))/math.Erfinv(share90), anywhere)
}

// What is stated of a strike that may lie anywhere.
const (
	anywhereM  = 0.3 // of its height: a metre of bag over sqrt(12), rounded up
	blindSDDeg = 100 // of its bearing: flips and all, by weights that hardly anything taught
)

// priorCertainty is what a detector states without labels: wide, and said to
// be uncalibrated.
func priorCertainty(bearingSDDeg, heightSDM float64) Certainty {
	// A normal error exceeds 1.645 standard deviations in one of ten.
	return Certainty{
		How:          "a prior, not measured: no labels",
		BearingSDDeg: bearingSDDeg, BearingHalf90Deg: math.Min(1.645*bearingSDDeg, 180),
		HeightSDM: heightSDM, HeightHalf90M: 1.645 * heightSDM,
	}
}
