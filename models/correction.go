package models

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/bearing"
)

// Correction is what labels of one rig taught beyond its yaw offset, as sums of
// terms that have no unit (see corrections):
//
//	bearing += sum BearingDeg_k x_k
//	height  += sum HeightM_k y_k, held to the bag
//
// The terms are made so by the rig's constants and the strike's own strength, so
// that what one bag taught is a first guess for another.
type Correction struct {
	BearingTerms []string  `json:"bearing_terms"`
	BearingDeg   []float64 `json:"bearing_deg"`
	HeightTerms  []string  `json:"height_terms"`
	HeightM      []float64 `json:"height_m"`
}

// term is one column of a correction.
type term struct {
	name     string
	bearing  bool     // of the bearing: odd in a mirror; else of the height, even
	features []string // that it reads
	value    func(b blow) float64
}

// blow is an answer for one strike, with what the terms compute from.
type blow struct {
	in      Input
	q       complex128
	heightM float64
	doubt   doubt
	whole   bool

	k       Constants
	u       complex128 // unit vector along q
	pushMPS float64
}

// usualContactS turns an acceleration into a velocity change of a usual contact.
const usualContactS = pulseMs / 1000

// mostTerm bounds a term: beyond it a strike is unlike all that taught.
const mostTerm = 3.0

// corrections lists the terms. What they see: the twist that a blow past the
// axis gives; swing that was there before; how the bag rocks after the blow, in
// which its bending shows; the height itself, for a bag that turns more or less
// than a stiff one; a force along the bag; and how short the contact was.
func corrections() []term {
	vector := func(b blow, name string) complex128 {
		z, _ := vectors(b.in.Row, []string{name}, nil)
		return z[0]
	}
	scalar := func(b blow, name string) float64 {
		x, _ := scalars(b.in.Row, []string{name}, nil)
		return x[0]
	}
	return []term{
		{"twist", true, []string{"twist"}, func(b blow) float64 {
			return b.k.TwistKgM2 / (b.k.MassKg * b.k.RadiusM) * scalar(b, "twist") / b.pushMPS
		}},
		{"swing across", true, []string{"accel_before"}, func(b blow) float64 {
			return usualContactS * across(vector(b, "accel_before"), b.u) / b.pushMPS
		}},
		{"rocking across", true, []string{"accel_50_65"}, func(b blow) float64 {
			return usualContactS * across(vector(b, "accel_50_65"), b.u) / b.pushMPS
		}},
		{"shift", false, nil, func(blow) float64 { return 1 }},
		{"height", false, nil, func(b blow) float64 { return (b.heightM - b.k.CentreHeightM()) / b.k.RadiusOfGyrationM }},
		{"lift", false, []string{"lift"}, func(b blow) float64 { return scalar(b, "lift") / b.pushMPS }},
		{"rocking along", false, []string{"accel_50_65"}, func(b blow) float64 {
			return usualContactS * along(vector(b, "accel_50_65"), b.u) / b.pushMPS
		}},
		{"turning along", false, []string{"rock_50_65"}, func(b blow) float64 {
			return b.k.RadiusOfGyrationM * along(vector(b, "rock_50_65"), b.u) / b.pushMPS
		}},
		{"sharpness", false, []string{"peak"}, func(b blow) float64 {
			return math.Log(math.Max(usualContactS*math.Sqrt(size2(vector(b, "peak")))/b.pushMPS, 0.1))
		}},
	}
}

// lineTerms are those that need no feature: a height that is shifted and
// stretched.
func lineTerms() []string { return []string{"shift", "height"} }

func termNamed(name string) (term, bool) {
	for _, t := range corrections() {
		if t.name == name {
			return t, true
		}
	}
	return term{}, false
}

// newBlow asks a core and prepares what the terms compute from.
func newBlow(c core, in Input) blow {
	b := blow{in: in, k: ConstantsOf(in.Rig), pushMPS: math.Max(kickMPS(in.Row), weakestKickMPS)}
	b.q, b.heightM, b.doubt, b.whole = ask(c, in)
	b.u = unit(b.q)
	return b
}

// columns are the values of terms, in the order of their names.
func (b blow) columns(names []string) []float64 {
	out := make([]float64, len(names))
	for i, n := range names {
		t, _ := termNamed(n)
		out[i] = math.Min(math.Max(t.value(b), -mostTerm), mostTerm)
	}
	return out
}

// apply returns the answer corrected; nil corrects nothing.
func (c *Correction) apply(b blow) (q complex128, heightM float64) {
	if c == nil {
		return b.q, b.heightM
	}
	var deg float64
	for i, x := range b.columns(c.BearingTerms) {
		deg += c.BearingDeg[i] * x
	}
	heightM = b.heightM
	for i, x := range b.columns(c.HeightTerms) {
		heightM += c.HeightM[i] * x
	}
	sin, cos := math.Sincos(bearing.Rad(deg))
	return b.q * complex(cos, sin), math.Min(math.Max(heightM, 0), b.k.LengthM)
}

func (c *Correction) check() error {
	if len(c.BearingTerms) != len(c.BearingDeg) || len(c.HeightTerms) != len(c.HeightM) {
		return errors.New("correction: as many terms as numbers are wanted")
	}
	for i, n := range slices.Concat(c.BearingTerms, c.HeightTerms) {
		if t, known := termNamed(n); !known || t.bearing != (i < len(c.BearingTerms)) {
			return fmt.Errorf("correction: term %q is unknown there", n)
		}
	}
	return nil
}

// corrected is a core whose answers on some rigs are corrected.
type corrected struct {
	core
	by map[string]*Correction // by the rig's key
}

// correctedBy wraps a core if any rig has a correction.
func correctedBy(c core, rigs []RigYaw) core {
	by := map[string]*Correction{}
	for _, y := range rigs {
		if y.Correction != nil {
			by[y.Rig] = y.Correction
		}
	}
	if len(by) == 0 {
		return c
	}
	return &corrected{core: c, by: by}
}

// Corrects tells whether answers on a rig revision are corrected beyond its yaw
// offset.
func (m *Model) Corrects(rigKey string) bool {
	y, _ := find(m.Rigs, rigKey)
	return y.Correction != nil
}

// plain is the core below corrections.
func plain(c core) core {
	if w, ok := c.(*corrected); ok {
		return w.core
	}
	return c
}

func (c *corrected) answer(in Input) (complex128, float64, bool) {
	q, h, _, whole := c.tell(in)
	return q, h, whole
}

func (c *corrected) tell(in Input) (complex128, float64, doubt, bool) {
	b := newBlow(c.core, in)
	q, h := c.by[in.Rig.Key()].apply(b)
	return q, h, b.doubt, b.whole
}

func (c *corrected) features() []string {
	out := c.core.features()
	for _, t := range corrections() { // in an order that does not depend on the map's
		for _, k := range c.by {
			if slices.Contains(k.BearingTerms, t.name) || slices.Contains(k.HeightTerms, t.name) {
				out = union(out, t.features)
				break
			}
		}
	}
	return out
}

func (c *corrected) cost() Cost {
	cost, terms := c.core.cost(), 0
	for _, k := range c.by {
		terms = max(terms, len(k.BearingTerms)+len(k.HeightTerms))
	}
	return Cost{Macs: cost.Macs + 5*terms, Numbers: cost.Numbers + terms}
}

func (c *corrected) waitMs(gyro bool) float64 {
	if w, ok := c.core.(waiter); ok {
		return w.waitMs(gyro)
	}
	return 0
}

// How far labels may move a correction from where it starts, as standard
// deviations for a term of usual size, and the errors of labels and answers
// that they are weighed against. Round numbers: on simulated recordings of
// three rigs, half or twice of each changed no error by more than a tenth.
const (
	termBearingDeg  = 2.0
	termHeightM     = 0.02
	usualBearingDeg = 2.0
	usualHeightM    = 0.03
)

// taught is a labelled strike with an answer for it.
type taught struct {
	Example
	blow blow
}

func answers(c core, ex []Example) []taught {
	out := make([]taught, len(ex))
	for i, e := range ex {
		out[i] = taught{e, newBlow(c, e.Input)}
	}
	return out
}

// missDeg is truth less the corrected answer, without yaw.
func (l taught) missDeg(c *Correction) float64 {
	q, _ := c.apply(l.blow)
	return bearing.Diff(l.BearingDeg, bearing.Of(q))
}

// learnYaw is the yaw offset after a correction, and the scatter about it.
func learnYaw(all []taught, c *Correction) (yawDeg, scatterDeg float64) {
	differences, weights := make([]float64, len(all)), make([]float64, len(all))
	for i, l := range all {
		differences[i], weights[i] = l.missDeg(c), labelWeight(l.BearingSDDeg, labelBearingDeg)
	}
	return yawOffset(differences, weights)
}

// learnCorrection fits the weights of terms by linear regression with a normal
// prior about start (zero for nil), misses beyond three usual errors held back
// (winsorised least squares). The yaw is free beside the bearing's terms and
// not part of the result.
func learnCorrection(all []taught, bearingTerms, heightTerms []string, start *Correction) (*Correction, error) {
	c := &Correction{BearingTerms: bearingTerms, HeightTerms: heightTerms}
	yaw, _ := learnYaw(all, nil)
	missB, missH := make([]float64, len(all)), make([]float64, len(all))
	weightB, weightH := make([]float64, len(all)), make([]float64, len(all))
	for i, l := range all {
		missB[i], missH[i] = bearing.Diff(l.missDeg(nil), yaw), l.HeightM-l.blow.heightM
		weightB[i], weightH[i] = labelWeight(l.BearingSDDeg, labelBearingDeg), labelWeight(l.HeightSDM, labelHeightM)
	}
	free := func(b blow) []float64 { return append(b.columns(bearingTerms), 1) } // the yaw's rest
	w, err := regress(all, free, missB, weightB, start.of(bearingTerms, true), termBearingDeg, usualBearingDeg, true)
	if err != nil {
		return nil, err
	}
	c.BearingDeg = w[:len(bearingTerms)]
	columns := func(b blow) []float64 { return b.columns(heightTerms) }
	c.HeightM, err = regress(all, columns, missH, weightH, start.of(heightTerms, false), termHeightM, usualHeightM, false)
	return c, err
}

// of returns the weights of terms, 0 for those that it does not have.
func (c *Correction) of(names []string, bearings bool) []float64 {
	out := make([]float64, len(names))
	if c == nil {
		return out
	}
	terms, weights := c.HeightTerms, c.HeightM
	if bearings {
		terms, weights = c.BearingTerms, c.BearingDeg
	}
	for i, n := range names {
		if at := slices.Index(terms, n); at >= 0 {
			out[i] = weights[at]
		}
	}
	return out
}

// regress returns the posterior means of the weights; free says that a last
// column has no prior and no start.
func regress(all []taught, columns func(blow) []float64, miss, weight, start []float64, priorSD, usual float64, free bool) ([]float64, error) {
	sizes := make([]float64, len(miss))
	for i, m := range miss {
		sizes[i] = math.Abs(m)
	}
	slices.Sort(sizes)
	noise := math.Max(usual, 1.48*sizes[len(sizes)/2]) // of a normal error's median size
	sd := make([]float64, len(start), len(start)+1)
	for k := range sd {
		sd[k] = priorSD
	}
	if free {
		start, sd = append(start, 0), append(sd, 100*priorSD)
	}
	if len(sd) == 0 {
		return nil, nil
	}
	rows, target := make([][]float64, len(all)), make([]float64, len(all))
	for i, l := range all {
		root := math.Sqrt(weight[i]) / noise
		x := columns(l.blow)
		target[i] = math.Min(math.Max(miss[i], -3*noise), 3*noise)
		for k := range x {
			target[i] -= start[k] * x[k]
			x[k] *= root * sd[k]
		}
		rows[i], target[i] = x, target[i]*root
	}
	w, err := ridge(rows, target, 1)
	if err != nil {
		return nil, err
	}
	for k := range w {
		w[k] = start[k] + sd[k]*w[k]
	}
	return w, nil
}
