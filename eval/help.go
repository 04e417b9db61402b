package eval

import (
	"fmt"
	"slices"
	"strings"

	"strikerose/dataset/shell"
)

// What more labels would bring is for learning curves to say.
const (
	learnMore = `more labelled strikes: "strikerose compare --learning" says how much another hundred would bring`
	learned   = "more labelled strikes: the learning curves say how much another hundred would bring"
)

// AddLearning adds learning curves to the comparison; its verdicts then point to
// them.
func (c *Comparison) AddLearning(curves []LearningCurve, skipped []Skip) {
	c.Learning, c.Skipped = append(c.Learning, curves...), append(c.Skipped, skipped...)
	if len(curves) == 0 {
		return
	}
	for _, g := range c.Groups {
		if g.Choice == nil || g.Choice.Verdict == nil {
			continue
		}
		help := g.Choice.Verdict.Help
		if at := slices.Index(help, learnMore); at >= 0 {
			help[at] = learned
		}
	}
}

// help lists what would bring a missed goal nearer, in sentences without their
// full stops.
func (c *Comparison) help(m members, g *Group, v *Verdict, o Options) []string {
	var out []string
	if s := v.without(lackWait, lackBytes, lackBoard); s != "" {
		_, cost := v.standing(g, s)
		out = append(out, fmt.Sprintf("%s would tell them, with %.0f ms, %d bytes%s", s, cost.WaitMs, cost.flashBytes(), unexported(cost)))
	}
	s, _ := v.standing(g, v.Detector)
	if !slices.Contains(s.Lacks, lackFaces) && !slices.Contains(s.Lacks, lackBands) {
		return out
	}
	if kinds := c.kindsThatMeet(m, v); kinds != "" && !c.aims(m.strikes) {
		out = append(out, kinds)
	}
	file := shell.Word(o.RigFile(c.Strikes[m.strikes[len(m.strikes)-1]].Rig))
	switch limit := boundShare(g, v.Goal, c.Strikes[m.strikes[0]].LengthM); {
	case limit > 0 && limit < RightShare:
		out = append(out, fmt.Sprintf("by the bound no detector without bias tells more than about %.0f %% with this sensor where it is: \"strikerose rig show %s\" says what a gyroscope or another place would gain", 100*limit, file))
	default:
		if !c.turnsRead(m.strikes) {
			out = append(out, fmt.Sprintf("a gyroscope: \"strikerose rig show %s\" says what it would gain", file))
		}
		out = append(out, learnMore)
	}
	return out
}

func unexported(c Cost) string {
	if c.Board {
		return ""
	}
	return ", but cannot be exported"
}

// turnsRead tells whether all strikes came with rotation rates.
func (c *Comparison) turnsRead(strikes []int) bool {
	for _, i := range strikes {
		if !c.Strikes[i].Gyro {
			return false
		}
	}
	return true
}

// without names the detector that lacks nothing but some of what is given and
// comes with the best shares; "" where there is none.
func (v *Verdict) without(given ...string) string {
	best, share := "", 0.0
	for _, s := range v.Standing {
		if !slices.ContainsFunc(s.Lacks, func(l string) bool { return !slices.Contains(given, l) }) && s.worst() > share {
			best, share = s.Detector, s.worst()
		}
	}
	return best
}

// kindsThatMeet says which kinds of strikes the named detector tells well
// enough by themselves.
func (c *Comparison) kindsThatMeet(m members, v *Verdict) string {
	k := slices.IndexFunc(c.Detectors, func(x DetectorDoc) bool { return x.Name == v.Detector })
	var met []string
	for _, kind := range c.kinds(m.strikes) {
		var faces, bands []float64
		for _, i := range m.strikes {
			if s := c.Scores[k][i]; c.Strikes[i].Truth.Kind == kind {
				faces = append(faces, partOfTurn(s))
				bands = append(bands, partOfBag(s))
			}
		}
		if len(faces) >= LeastToSupport && shareRight(faces, v.Goal.Faces, rightFace) >= RightShare && shareRight(bands, v.Goal.Bands, rightBand) >= RightShare {
			met = append(met, fmt.Sprintf("%s (%d)", kind, len(faces)))
		}
	}
	if len(met) == 0 {
		return ""
	}
	return fmt.Sprintf("%s meets it on these kinds of strikes alone: %s", v.Detector, strings.Join(met, ", "))
}

// boundShare is the share of strikes that errors as large as the group's bound
// with model noise would put right, the smaller of faces and bands; 0 where
// there is no bound. The share falls in proportion to the mean error as long as
// hardly an error is as large as a face or a band.
func boundShare(g *Group, goal Goal, lengthM float64) float64 {
	_, bearing := g.Least(BearingMAE)
	_, height := g.Least(HeightMAE)
	if !bearing.Known() || !height.Known() {
		return 0
	}
	return min(rightFace(bearing.Value/360, goal.Faces), rightBand(height.Value/lengthM, goal.Bands))
}
