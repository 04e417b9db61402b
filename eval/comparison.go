package eval

import (
	"math"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/models"
)

// Comparison is the outcome of Compare. It marshals to stable JSON: keys are
// only ever added.
type Comparison struct {
	Leave          string          `json:"leave"`
	TrainTruth     string          `json:"train_truth"`
	ScoreTruth     string          `json:"score_truth"`
	Floor          Floor           `json:"floor"`
	Seed           uint64          `json:"seed"`
	Resamples      int             `json:"resamples"`
	Level          float64         `json:"level"`
	Rigs           []string        `json:"rigs"` // keys NAME-rREV of the sessions compared
	Measures       []MeasureDoc    `json:"measures"`
	Detectors      []DetectorDoc   `json:"detectors"` // in the order of the families given
	Folds          []FoldDoc       `json:"folds"`
	Sessions       []Counts        `json:"sessions"`
	Groups         []Group         `json:"groups"`              // all strikes, then each rig, then each band and kind of each rig
	Certainty      []CertaintyDoc  `json:"certainty,omitempty"` // how honest what is stated is: of all rigs, then of each
	Detection      *Detection      `json:"detection,omitempty"`
	Sensitivity    []Sensitivity   `json:"sensitivity,omitempty"`     // a rig each
	HeavyLabels    []HeavyLabel    `json:"heavy_labels,omitempty"`    // the heaviest of each rig first
	Worst          []WorstStrike   `json:"worst,omitempty"`           // of all rigs, the worst first
	WorstReasons   []ReasonCount   `json:"worst_reasons,omitempty"`   // what stands out about them, the most frequent first
	SessionEffects []SessionEffect `json:"session_effects,omitempty"` // as SessionEffects gives them
	Learning       []LearningCurve `json:"learning,omitempty"`        // as Learn gives them
	RigToRig       []LeftRig       `json:"rig_to_rig,omitempty"`      // as RigToRig gives them
	Skipped        []Skip          `json:"skipped,omitempty"`
	Warnings       []string        `json:"warnings,omitempty"`

	Strikes []StrikeDoc         `json:"-"` // the strikes scored, in order of session and time
	Scores  [][]Score           `json:"-"` // [detector][strike]; NaN throughout where there is no answer
	Answers [][]models.Estimate `json:"-"` // likewise

	answered [][]bool // likewise: whether there is an answer
	costs    [][]Cost // likewise: of the detector that gave it
}

// MeasureDoc tells a reader of the JSON what a measure is.
type MeasureDoc struct {
	Name   string `json:"name"`
	Unit   string `json:"unit"`
	Better string `json:"better"`
	Doc    string `json:"doc"`
}

// DetectorDoc describes a detector that was compared.
type DetectorDoc struct {
	Name      string  `json:"name"`
	Kind      string  `json:"kind"`
	Doc       string  `json:"doc"`
	NeedsGyro bool    `json:"needs_gyro"`
	WaitMs    float64 `json:"wait_ms"`
}

// FoldDoc is one split: what was left out and what was trained on.
type FoldDoc struct {
	Left  string   `json:"left_out"`
	Train []string `json:"train_sessions"`
	Test  []string `json:"test_sessions"`
}

// Skip is a detector that could not be compared on some strikes, and why.
type Skip struct {
	Detector string `json:"detector"`
	Where    string `json:"where"`
	Why      string `json:"why"`
}

// StrikeDoc is one strike scored.
type StrikeDoc struct {
	Session string
	Rig     string // key
	Name    string // of the rig, shared by its revisions
	OnsetNs int64
	Faces   int       // of the rig
	LengthM float64   // of the bag
	Gyro    bool      // rotation rates are read
	Bands   []string  // of the rig, from the bottom
	BandToM []float64 // where each band ends; the last one at the top
	Truth   Target

	PeakMPS2  float64 // largest specific force during contact
	Clipped   bool    // it reached the sensor's limit
	SwingMPS2 float64 // how much the bag swung before; NaN where not known
	SinceS    float64 // since the strike before it, found in the same session; 0 where not known
	NearGap   bool    // samples are missing within its window
	DeadM     float64 // the rig's dead height, NaN where there is none on the bag

	Window *dataset.Window // nil where not kept
}

// Group is a set of strikes and the figures of every detector on them.
type Group struct {
	Rig         string  `json:"rig"`  // name; "" is all
	Band        string  `json:"band"` // "" is all
	Kind        string  `json:"kind"` // "" is all
	Strikes     int     `json:"strikes"`
	Unit        string  `json:"unit"` // resampling unit: session or block
	Units       int     `json:"units"`
	Rows        []Row   `json:"rows"`
	Bound       *Bound  `json:"bound,omitempty"` // least mean errors possible
	Pairs       []Pair  `json:"pairs,omitempty"`
	Choice      *Choice `json:"choice,omitempty"`        // of all strikes, and of each rig
	TooFewUnits bool    `json:"too_few_units,omitempty"` // so few that no difference could be told from chance, however large
}

// Row holds one detector's figures by the name of the measure.
type Row struct {
	Detector string            `json:"detector"`
	Figures  map[string]Figure `json:"figures"`
}

// Figure returns a figure of the row, NoFigure when it has none of that name.
func (r Row) Figure(name string) Figure {
	if f, ok := r.Figures[name]; ok {
		return f
	}
	return NoFigure()
}

// Pair compares the best detector by a measure with another one on the same
// strikes.
type Pair struct {
	Measure    string  `json:"measure"`
	Best       string  `json:"best"`
	Other      string  `json:"other"`
	Difference Figure  `json:"difference"` // other minus best
	P          float64 `json:"p"`          // two-sided, of the sign-flip test over resampling units
	PWilcoxon  float64 `json:"p_wilcoxon"` // two-sided, signed-rank: less moved by a few wild errors, for comparison
	PHolm      float64 `json:"p_holm"`     // corrected for the number of detectors compared with the best
	Distinct   bool    `json:"distinct"`   // told apart at the comparison's level
}

// Marks of how a detector stands in a group by a measure.
const (
	MarkBest = "*" // least mean error
	MarkTied = "~" // cannot be told from the best
)

// Mark tells how a detector stands by one of the measures that detectors are
// ranked by: MarkBest, MarkTied, or "" where it is told apart from the best or
// not compared.
func (g Group) Mark(detector, measure string) string {
	for _, p := range g.Pairs {
		switch {
		case p.Measure != measure:
		case p.Best == detector:
			return MarkBest
		case p.Other == detector && !p.Distinct:
			return MarkTied
		}
	}
	return ""
}

// Floor is the part of the mean errors that is the labels' own.
type Floor struct {
	BearingMAEDeg float64 `json:"bearing_mae_deg"`
	HeightMAEM    float64 `json:"height_mae_m"`
	PlanShare     float64 `json:"plan_share"` // of the labels scored against that come from a plan
	Note          string  `json:"note"`
}

// Detection scores the finder against sessions whose timed truth is complete.
type Detection struct {
	Sessions     int     `json:"sessions"`
	Truth        int     `json:"truth"` // strikes that the truth lists
	Found        int     `json:"found"`
	Matched      int     `json:"matched"`
	ToleranceMs  float64 `json:"tolerance_ms"`
	Unit         string  `json:"unit"`
	Units        int     `json:"units"`
	Precision    Figure  `json:"precision"`
	Recall       Figure  `json:"recall"`
	F1           Figure  `json:"f1"`
	OnsetErrorMs Figure  `json:"onset_error_ms"` // mean size
	OnsetBiasMs  Figure  `json:"onset_bias_ms"`  // found minus true
	DelayMs      Figure  `json:"delay_ms"`       // mean, ready minus found onset
	DelayP95Ms   Figure  `json:"delay_p95_ms"`
}

// AnswerFace is the face, from 1, on which a detector put a strike (position in
// Strikes); 0 where it gave no bearing.
func (c *Comparison) AnswerFace(detector, strike int) int {
	if math.IsNaN(c.Scores[detector][strike].BearingErrDeg) {
		return 0
	}
	return bearing.FaceOf(c.Answers[detector][strike].BearingDeg, c.Strikes[strike].Faces)
}

// AnswerBand is the band into which a detector put a strike; "" where it gave
// no height.
func (c *Comparison) AnswerBand(detector, strike int) string {
	height := c.Answers[detector][strike].HeightM
	if math.IsNaN(c.Scores[detector][strike].HeightErrM) || math.IsNaN(height) {
		return ""
	}
	s := c.Strikes[strike]
	for i, name := range s.Bands {
		if i == len(s.Bands)-1 || height < s.BandToM[i] {
			return name
		}
	}
	return ""
}
