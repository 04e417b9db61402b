package eval

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Goal is what a person asks of a detector: 95 % of the strikes on the right one of
// so many equal faces and in the right one of so many equal bands. RightShare is that
// share.
type Goal struct {
	Faces    int     `json:"faces"`               // how many equal faces are to be told apart, at least 0; 0 is as many as the rig has
	Bands    int     `json:"bands"`               // how many equal bands are to be told apart, at least 0; 0 is as many as the rig has
	WithinMs float64 `json:"within_ms,omitempty"` // longest wait after the onset, milliseconds; absent for any
	Bytes    int     `json:"bytes,omitempty"`     // most bytes of stored numbers; absent for any
}

// Check refuses a goal that makes no sense.
func (g Goal) Check() error {
	switch {
	case g.Faces < 0 || g.Faces > MostFaces:
		return fmt.Errorf("a goal of %d faces: give 1 to %d", g.Faces, MostFaces)
	case g.Bands < 0 || g.Bands > MostBands:
		return fmt.Errorf("a goal of %d bands: give 1 to %d", g.Bands, MostBands)
	case g.Bytes < 0:
		return fmt.Errorf("a goal of %d bytes: give a number above 0", g.Bytes)
	case !(g.WithinMs >= 0) || math.IsInf(g.WithinMs, 0):
		return fmt.Errorf("a goal of %g ms: give milliseconds after the onset", g.WithinMs)
	}
	return nil
}

// words names the goal: "6 faces and 3 bands within 60 ms in 4096 bytes".
func (g Goal) words() string {
	s := fmt.Sprintf("%s and %s", plural(g.Faces, "face"), plural(g.Bands, "band"))
	if g.WithinMs > 0 {
		s += fmt.Sprintf(" within %g ms", g.WithinMs)
	}
	if g.Bytes > 0 {
		s += fmt.Sprintf(" in %d bytes", g.Bytes)
	}
	return s
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Verdict tells which detector to put on the board for a goal, or what is
// missing.
type Verdict struct {
	Goal Goal `json:"goal"` // what was asked
	Met  bool `json:"met"`  // whether a detector does it
	Sure bool `json:"sure"` // whether the intervals of both shares lie above what is asked
	// Detector is the name of the one that meets it at the least cost, else of the one that
	// comes nearest; empty where none can be judged.
	Detector string     `json:"detector"`
	Sentence string     `json:"sentence"`       // the verdict in words
	Help     []string   `json:"help,omitempty"` // what would help, in words; absent where the goal is met
	Standing []Standing `json:"standing"`       // how every detector stands to it, in the order of the group's rows
}

// Standing is how one detector stands to the goal.
type Standing struct {
	Detector  string `json:"detector"`         // name of the detector
	RightFace Figure `json:"right_face_share"` // share of strikes on the right one of the goal's faces
	RightBand Figure `json:"right_band_share"` // share of strikes in the right one of the goal's bands
	// Lacks are what it lacks for the goal, each one of lackWait, lackBytes, lackBoard,
	// lackFaces or lackBands; absent where it meets it.
	Lacks []string `json:"lacks,omitempty"`
}

// What a detector may lack for a goal.
const (
	lackWait  = "wait"
	lackBytes = "bytes"
	lackBoard = "board"
	lackFaces = "faces"
	lackBands = "bands"
)

// runs tells whether the detector can be put on the board that is asked for.
func (s Standing) runs() bool {
	return !slices.ContainsFunc(s.Lacks, func(l string) bool { return l == lackWait || l == lackBytes || l == lackBoard })
}

// worst is the smaller of both shares; 0 for a detector that does not give both.
func (s Standing) worst() float64 {
	if !s.RightFace.Known() || !s.RightBand.Known() {
		return 0
	}
	return math.Min(s.RightFace.Value, s.RightBand.Value)
}

// judge holds every detector of a group against the goal. Faces and bands are
// equal, with edges anywhere; against labels of a plan, which says no more than
// the rig's own faces and bands, those are taken, as they were struck. nil where
// the group's rigs have different faces or bands and none are asked for, or
// where a plan's labels cannot tell.
func (c *Comparison) judge(m members, g *Group, o Options) *Verdict {
	goal, own, ok := c.goalFor(m.strikes, o.Goal)
	if !ok {
		return nil
	}
	v := &Verdict{Goal: goal}
	aims := c.aims(m.strikes)
	if aims && !own {
		v.Sentence = fmt.Sprintf("whether %s can be told does not follow from labels of a plan, which say no more than the rig's own faces and bands: give timed or hand labels", goal.words())
		return v
	}
	unit, units, _ := c.units(m)
	r := newResampler(units, o.Resamples, stream(o.Seed, "bootstrap "+g.where()))
	share := func(k int, of func(Score) float64) Figure {
		col := column{share: aims, values: make([]float64, len(m.strikes))}
		for j, i := range m.strikes {
			col.values[j] = of(c.Scores[k][i])
		}
		return col.figure(unit, r, o.Level)
	}
	for _, cost := range g.Choice.Costs {
		k := slices.IndexFunc(c.Detectors, func(x DetectorDoc) bool { return x.Name == cost.Detector })
		s := Standing{Detector: cost.Detector}
		if aims {
			s.RightFace = share(k, func(s Score) float64 { return s.RightFace })
			s.RightBand = share(k, func(s Score) float64 { return s.RightBand })
		} else {
			s.RightFace = share(k, func(s Score) float64 { return orUnknown(partOfTurn(s), rightFace(partOfTurn(s), goal.Faces)) })
			s.RightBand = share(k, func(s Score) float64 { return orUnknown(partOfBag(s), rightBand(partOfBag(s), goal.Bands)) })
		}
		s.Lacks = lacks(s, cost.Cost, goal)
		v.Standing = append(v.Standing, s)
	}
	v.pick(g)
	v.Sentence = v.say(g, aims)
	if !v.Met {
		v.Help = c.help(m, g, v, o)
	}
	return v
}

// orUnknown is x, or NaN where the error that it was made from is not known: a
// goal of one face or band would else be met by who gives none.
func orUnknown(err, x float64) float64 {
	if math.IsNaN(err) {
		return err
	}
	return x
}

// goalFor fills in what the goal leaves open from the strikes' rigs; own tells
// whether faces and bands are those of all rigs, ok whether there is a goal.
func (c *Comparison) goalFor(strikes []int, g Goal) (goal Goal, own, ok bool) {
	first := c.Strikes[strikes[0]]
	faces, bands := first.Faces, len(first.Bands)
	alike := true
	for _, i := range strikes {
		s := c.Strikes[i]
		alike = alike && s.Faces == faces && len(s.Bands) == bands
	}
	if g.Faces == 0 {
		g.Faces = faces
		if !alike {
			return g, false, false
		}
	}
	if g.Bands == 0 {
		g.Bands = bands
		if !alike {
			return g, false, false
		}
	}
	return g, alike && g.Faces == faces && g.Bands == bands, true
}

func lacks(s Standing, cost Cost, goal Goal) []string {
	var out []string
	add := func(short bool, what string) {
		if short {
			out = append(out, what)
		}
	}
	add(goal.WithinMs > 0 && cost.WaitMs > goal.WithinMs, lackWait)
	add(goal.Bytes > 0 && cost.flashBytes() > goal.Bytes, lackBytes)
	add(!cost.Board, lackBoard)
	add(!(s.RightFace.Value >= RightShare), lackFaces)
	add(!(s.RightBand.Value >= RightShare), lackBands)
	return out
}

// pick takes, of those that meet the goal, the one that costs least; else, of
// those that run on the board, the one that comes nearest; else of all.
func (v *Verdict) pick(g *Group) {
	best := -1
	for k, s := range v.Standing {
		if len(s.Lacks) == 0 && (best < 0 || g.Choice.Costs[k].whole() < g.Choice.Costs[best].whole()) {
			best = k
		}
	}
	v.Met = best >= 0
	for _, must := range []bool{true, false} {
		for k, s := range v.Standing {
			if v.Met || must && !s.runs() || s.worst() == 0 {
				continue
			}
			if best < 0 || s.worst() > v.Standing[best].worst() {
				best = k
			}
		}
		if best >= 0 {
			break
		}
	}
	if best < 0 {
		return
	}
	s := v.Standing[best]
	v.Detector = s.Detector
	v.Sure = v.Met && s.RightFace.Low >= RightShare && s.RightBand.Low >= RightShare
}

// standing is that of a detector, with its cost.
func (v *Verdict) standing(g *Group, detector string) (Standing, Cost) {
	for k, s := range v.Standing {
		if s.Detector == detector {
			return s, g.Choice.Costs[k].Cost
		}
	}
	return Standing{}, Cost{}
}

// say puts the verdict in a sentence without its full stop.
func (v *Verdict) say(g *Group, aims bool) string {
	if v.Detector == "" {
		return fmt.Sprintf("for %s: no detector gives both bearing and height", v.Goal.words())
	}
	s, cost := v.standing(g, v.Detector)
	how := "edges anywhere"
	if aims {
		how = "as aimed"
	}
	told := fmt.Sprintf("%s right face, %s right band (%s)", percent(s.RightFace), percent(s.RightBand), how)
	takes := fmt.Sprintf("%d operations, %d bytes, %.0f ms", cost.Macs, cost.flashBytes(), cost.WaitMs)
	if v.Met {
		out := fmt.Sprintf("for %s take %s, the cheapest that meets it: %s; %s", v.Goal.words(), v.Detector, told, takes)
		if !v.Sure {
			out += fmt.Sprintf("; not yet sure, as an interval reaches below the %.0f %% asked", 100*RightShare)
		}
		return out
	}
	var short []string
	for _, l := range s.Lacks {
		switch l {
		case lackFaces:
			short = append(short, fmt.Sprintf("by %.1f points of %.0f %% around", 100*(RightShare-s.RightFace.Value), 100*RightShare))
		case lackBands:
			short = append(short, fmt.Sprintf("by %.1f points of %.0f %% up and down", 100*(RightShare-s.RightBand.Value), 100*RightShare))
		case lackWait:
			short = append(short, fmt.Sprintf("by %.0f ms", cost.WaitMs-v.Goal.WithinMs))
		case lackBytes:
			short = append(short, fmt.Sprintf("by %d bytes", cost.flashBytes()-v.Goal.Bytes))
		case lackBoard:
			short = append(short, "as it cannot be exported")
		}
	}
	return fmt.Sprintf("no detector meets %s: %s comes nearest and misses %s: %s; %s", v.Goal.words(), v.Detector, strings.Join(short, " and "), told, takes)
}

func percent(f Figure) string {
	s := fmt.Sprintf("%.1f %%", 100*f.Value)
	if f.HasInterval() {
		s += fmt.Sprintf(" [%.1f, %.1f]", 100*f.Low, 100*f.High)
	}
	return s
}
