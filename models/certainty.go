package models

import (
	"math"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/features"
)

// Certainty is how far answers are from the truth, as stated beside each.
type Certainty struct {
	Calibrated       bool    `json:"calibrated"` // measured on labelled strikes that were held back
	How              string  `json:"how"`
	Strikes          int     `json:"strikes"`
	Sessions         int     `json:"sessions"`
	BearingSDDeg     float64 `json:"bearing_sd_deg"` // circular, sqrt(-2 ln R)
	BearingHalf90Deg float64 `json:"bearing_half90_deg"`
	HeightSDM        float64 `json:"height_sd_m"`
	HeightHalf90M    float64 `json:"height_half90_m"`
	// Difficulty scales the bearing's figures strike by strike; nil does not.
	Difficulty *Difficulty `json:"difficulty,omitempty"`
}

// Difficulty guesses from a strike's features how much farther than usual its
// bearing may be off: exp(sum Weights_k (x_k - Mean_k)), held to Low and High.
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
	fold       int     // that held it back
	scale      float64 // its difficulty by what the other folds teach or the core tells, 1 where all count alike
	scaleM     float64 // likewise of the height, by what the core tells
	told       bool    // the core tells both
	bearingDeg float64
	heightM    float64
	labelSDDeg float64 // the label's own uncertainty, as stated
	labelSDM   float64
}

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
	return []string{"log peak", "log swing before", "vertical ratio", "oblique", "curved"}
}

func difficultyOf(row features.Row) []float64 {
	value := func(name string) float64 { v, _ := sane(row.Scalar(name)); return v }
	z, _ := vectors(row, []string{"peak"}, nil)
	return []float64{
		math.Log(1 + math.Sqrt(size2(z[0]))),
		math.Log(1 + math.Abs(value("swing_before"))),
		math.Min(math.Abs(value("vertical_ratio")), 2),
		math.Min(math.Abs(value("oblique")), 1),
		1 - math.Min(math.Max(value("rectilinearity"), 0), 1),
	}
}

// scale is the strike's difficulty, 1 for a usual one.
func (d *Difficulty) scale(row features.Row) float64 {
	if d == nil {
		return 1
	}
	var s float64
	for k, x := range difficultyOf(row) {
		s += d.Weights[k] * (x - d.Mean[k])
	}
	if f := math.Exp(s); f < d.High {
		return math.Max(f, d.Low)
	}
	return d.High
}

// calibrate turns held-back errors into a certainty. Lands says that the
// detector's errors are independent of the labels'. Where the difficulty scales
// them, the errors' own scales are set.
func calibrate(res []residual, how string, lands bool) Certainty {
	c := Certainty{How: how, Strikes: len(res)}
	sessions := map[string]bool{}
	var height []float64
	var sum2 float64
	for _, r := range res {
		sessions[r.session] = true
		h := r.heightM / r.scaleM
		height = append(height, math.Abs(h))
		sum2 += h * h
	}
	c.Sessions = len(sessions)
	c.Calibrated = len(res) >= leastToCalibrate
	if !c.Calibrated {
		return c
	}
	c.HeightSDM = math.Sqrt(sum2 / float64(len(res)))
	c.HeightHalf90M = upper(height, share90)

	constant := widths(res)
	c.BearingSDDeg, c.BearingHalf90Deg = constant.sd, constant.half90
	if len(res) >= leastToScale && !res[0].told {
		// Worth it only where the usual interval becomes clearly narrower.
		d, scaled := fitDifficulty(res), crossScaled(res)
		if w := widths(scaled); d != nil && w.median90 < 0.95*constant.median90 {
			c.BearingSDDeg, c.BearingHalf90Deg, c.Difficulty = w.sd, w.half90, d
			copy(res, scaled)
		}
	}
	if lands {
		c.takeOffLabels(res, constant.sd)
	}
	return c
}

// takeOffLabels takes the labels' own uncertainty off: an error against a label
// is the detector's and the label's together, and their variances add where they
// are independent. At least a third of the error is left to the detector.
func (c *Certainty) takeOffLabels(res []residual, bearingSDDeg float64) {
	var b, h float64
	for _, r := range res {
		own := 1.0
		if r.told { // the standard deviation is that of errors over what the core tells
			own = r.scale
		}
		b += math.Pow(r.labelSDDeg/own, 2) / float64(len(res))
		h += math.Pow(r.labelSDM/r.scaleM, 2) / float64(len(res))
	}
	if b == 0 && h == 0 {
		return
	}
	left := func(variance, label float64) float64 {
		return math.Sqrt(math.Max(variance-label, variance/9) / variance)
	}
	if bearingSDDeg > 0 {
		s := left(bearingSDDeg*bearingSDDeg, b)
		c.BearingSDDeg, c.BearingHalf90Deg = c.BearingSDDeg*s, c.BearingHalf90Deg*s
	}
	if c.HeightSDM > 0 {
		s := left(c.HeightSDM*c.HeightSDM, h)
		c.HeightSDM, c.HeightHalf90M = c.HeightSDM*s, c.HeightHalf90M*s
	}
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
		a, h := math.Abs(r.bearingDeg)/r.scale, math.Abs(r.heightM)/r.scaleM
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

// width is what a strike of difficulty 1 gets, and the median interval.
type width struct{ sd, half90, median90 float64 }

func widths(res []residual) width {
	size := make([]float64, len(res))
	scales := make([]float64, len(res))
	angles := make([]float64, len(res))
	for i, r := range res {
		scales[i] = r.scale
		angles[i] = r.bearingDeg / scales[i]
		size[i] = math.Abs(angles[i])
	}
	// The circular standard deviation of errors about zero, not about their
	// mean: a bias is an error too.
	var cos float64
	for _, a := range angles {
		cos += math.Cos(bearing.Rad(a))
	}
	w := width{sd: bearing.SDDeg(math.Max(cos/float64(len(res)), 1e-6)), half90: math.Min(upper(size, share90), 180)}
	slices.Sort(scales)
	w.median90 = w.half90 * scales[len(scales)/2]
	return w
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

// crossScaled returns the errors with the scale of each by a difficulty that was
// fitted without its fold: a scale fitted to the very errors that it divides
// would make them smaller than those to come.
func crossScaled(res []residual) []residual {
	out := slices.Clone(res)
	of := map[int]*Difficulty{}
	for i, r := range res {
		d, ok := of[r.fold]
		if !ok {
			d = fitDifficulty(slices.DeleteFunc(slices.Clone(res), func(o residual) bool { return o.fold == r.fold }))
			of[r.fold] = d
		}
		out[i].scale = d.scale(r.in.Row)
	}
	return out
}

// fitDifficulty regresses the logarithm of the error's size on the terms, and is
// nil where that has no solution. Of its round numbers, floorDeg keeps the
// logarithm of a lucky hit from outweighing the others, strength counts as ten
// strikes without any trend, and low and high bound what a strike unlike all
// others may be given.
func fitDifficulty(res []residual) *Difficulty {
	const floorDeg, strength, low, high = 0.2, 10.0, 0.4, 4.0
	terms := difficultyTerms()
	d := &Difficulty{Terms: terms, Mean: make([]float64, len(terms)), Weights: make([]float64, len(terms)), Low: low, High: high}
	x := make([][]float64, len(res))
	y := make([]float64, len(res))
	var meanY float64
	for i, r := range res {
		x[i] = difficultyOf(r.in.Row)
		y[i] = math.Log(math.Abs(r.bearingDeg) + floorDeg)
		meanY += y[i] / float64(len(res))
		for k, v := range x[i] {
			d.Mean[k] += v / float64(len(res))
		}
	}
	for i := range x {
		y[i] -= meanY
		for k := range x[i] {
			x[i][k] -= d.Mean[k]
		}
	}
	w, err := ridge(x, y, strength)
	if err != nil {
		return nil
	}
	d.Weights = w
	return d
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
