package eval

import (
	"cmp"
	"math"
	"slices"
)

// CertaintyDoc tells how honest a detector's stated certainty is on the strikes
// of all rigs, or of one. How many strikes lie in the stated 90 % intervals, by
// rig, band and kind, is among the figures of each group.
type CertaintyDoc struct {
	Detector string        `json:"detector"`          // name of the detector
	Rig      string        `json:"rig"`               // name of the rig; empty for all
	Strikes  int           `json:"strikes"`           // how many strikes were scored, at least 0
	Bearing  []Reliability `json:"bearing,omitempty"` // shares of bearings found within stated intervals, by rising level; absent where none are stated
	Height   []Reliability `json:"height,omitempty"`  // likewise of heights; absent where none are stated
	// WrongFace is the share on a wrong face among strikes that are answered, the surest by
	// the stated chance of a wrong face first; absent where none is stated.
	WrongFace *RiskCoverage `json:"wrong_face,omitempty"`
	// BearingDeg is the mean size of the bearing error in degrees among strikes that are
	// answered, the surest by the stated spread first; absent where none is stated.
	BearingDeg *RiskCoverage `json:"bearing_deg,omitempty"`
}

// Reliability is the share of strikes that lie in intervals that should hold a
// share.
type Reliability struct {
	Level float64 `json:"level"` // share that the stated intervals should hold, in (0, 1)
	Found float64 `json:"found"` // share of strikes that they do hold, in [0, 1]
}

// RiskCoverage is the risk of the surest strikes against the share of strikes
// answered (the selective risk of El-Yaniv and Wiener 2010, Journal of Machine
// Learning Research 11:1605-1641), with its mean over all shares as the area
// under it, that of a ranking that knew the errors, and that of none.
type RiskCoverage struct {
	Points   []RiskPoint `json:"points"`        // the curve, by rising share answered, up to all
	Area     float64     `json:"area"`          // mean risk over all shares answered, at least 0
	Least    float64     `json:"least_area"`    // the same of a ranking that knew the errors, at least 0
	Unsorted float64     `json:"unsorted_area"` // the same of no ranking, which is the risk of all strikes, at least 0
}

// RiskPoint is one point of the curve.
type RiskPoint struct {
	Answered float64 `json:"answered"` // share of strikes answered, in (0, 1]
	Risk     float64 `json:"risk"`     // what goes wrong among them, in the unit of the curve, at least 0
}

// reliabilityLevels are the stated levels at which what was found is told.
func reliabilityLevels() []float64 {
	return []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99}
}

// curveSteps is into how many equal shares of the strikes a curve is divided.
const curveSteps = 20

// addCertainty fills in how honest each detector's certainty is, for all rigs
// and for each.
func (c *Comparison) addCertainty() {
	for _, m := range c.groups() {
		if m.Band != "" || m.Kind != "" {
			continue
		}
		for k, d := range c.Detectors {
			if !c.answersAll(k, m.strikes) {
				continue
			}
			doc := CertaintyDoc{Detector: d.Name, Rig: m.Rig, Strikes: len(m.strikes)}
			doc.judge(c, k, m.strikes)
			if doc.Bearing != nil || doc.Height != nil {
				c.Certainty = append(c.Certainty, doc)
			}
		}
	}
}

// judge fills in the curves from a detector's answers for some strikes.
func (d *CertaintyDoc) judge(c *Comparison, detector int, strikes []int) {
	var levelB, levelH []float64 // at which the truth lies on the edge of the interval
	var faces, errors []gamble
	for _, i := range strikes {
		e, s := c.Answers[detector][i], c.Scores[detector][i]
		if !math.IsNaN(s.BearingErrDeg) && stated(e.BearingSDDeg) {
			levelB = append(levelB, e.Bearing().Within(math.Abs(s.BearingErrDeg)))
			faces = append(faces, gamble{doubt: e.WrongFaceChance(c.Strikes[i].Faces), loss: 1 - s.RightFace})
			errors = append(errors, gamble{doubt: e.BearingSDDeg, loss: math.Abs(s.BearingErrDeg)})
		}
		if !math.IsNaN(s.HeightErrM) && stated(e.HeightSDM) {
			levelH = append(levelH, math.Erf(math.Abs(s.HeightErrM)/(e.HeightSDM*math.Sqrt2)))
		}
	}
	d.Bearing, d.Height = reliability(levelB), reliability(levelH)
	d.WrongFace, d.BearingDeg = riskCoverage(faces), riskCoverage(errors)
}

// reliability counts how many truths lie within each level; nil of none.
func reliability(edges []float64) []Reliability {
	if len(edges) == 0 {
		return nil
	}
	var out []Reliability
	for _, level := range reliabilityLevels() {
		r := Reliability{Level: level}
		for _, x := range edges {
			r.Found += indicator(x <= level)
		}
		r.Found /= float64(len(edges)) // only now: a sum of parts may come out above 1
		out = append(out, r)
	}
	return out
}

// gamble is an answer with how unsure a detector is of it and what is lost by it.
type gamble struct{ doubt, loss float64 }

// riskCoverage answers the surest strikes first; nil without any. Strikes that
// are alike in doubt lose their mean, so that their order does not matter.
func riskCoverage(all []gamble) *RiskCoverage {
	if len(all) == 0 {
		return nil
	}
	sorted := slices.Clone(all)
	slices.SortStableFunc(sorted, func(a, b gamble) int { return cmp.Compare(a.doubt, b.doubt) })
	for from := 0; from < len(sorted); {
		to, sum := from, 0.0
		for ; to < len(sorted) && sorted[to].doubt == sorted[from].doubt; to++ {
			sum += sorted[to].loss
		}
		for k := from; k < to; k++ {
			sorted[k].loss = sum / float64(to-from)
		}
		from = to
	}
	risks, area := selective(sorted)
	knowing := slices.Clone(all)
	slices.SortStableFunc(knowing, func(a, b gamble) int { return cmp.Compare(a.loss, b.loss) })
	_, least := selective(knowing)
	out := &RiskCoverage{Area: area, Least: least, Unsorted: risks[len(risks)-1]}
	for step := 1; step <= curveSteps; step++ {
		if k := len(risks) * step / curveSteps; k > 0 {
			out.Points = append(out.Points, RiskPoint{Answered: float64(k) / float64(len(risks)), Risk: risks[k-1]})
		}
	}
	return out
}

// selective is the mean loss of the first one, two and so on, and its mean.
func selective(sorted []gamble) (risks []float64, area float64) {
	var sum float64
	for k, r := range sorted {
		sum += r.loss
		risks = append(risks, sum/float64(k+1))
		area += risks[k] / float64(len(sorted))
	}
	return risks, area
}

// At gives the risk where at least a share of the strikes is answered.
func (r *RiskCoverage) At(answered float64) float64 {
	for _, p := range r.Points {
		if p.Answered >= answered-1e-9 {
			return p.Risk
		}
	}
	return r.Unsorted
}

// CertaintyOf finds what is told of a detector on one rig, "" for all; nil
// where there is nothing.
func (c *Comparison) CertaintyOf(detector, rig string) *CertaintyDoc {
	for i, d := range c.Certainty {
		if d.Detector == detector && d.Rig == rig {
			return &c.Certainty[i]
		}
	}
	return nil
}
