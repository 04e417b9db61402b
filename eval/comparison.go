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
	Leave       string         `json:"leave"`                 // what was left out at a time: one of LeaveSession, LeaveStriker, LeaveRig or LeaveRevision
	TrainTruth  string         `json:"train_truth"`           // labels that were trained on, one of Truths
	ScoreTruth  string         `json:"score_truth"`           // labels that were scored against, one of Truths
	Floor       Floor          `json:"floor"`                 // part of the mean errors that is the labels' own
	Seed        uint64         `json:"seed"`                  // seed of everything random
	Resamples   int            `json:"resamples"`             // how many resamples stand behind each interval, at least 0
	Level       float64        `json:"level"`                 // share that the intervals of all figures should hold, in (0, 1)
	Rigs        []string       `json:"rigs"`                  // keys NAME-rREV of the rigs of the sessions compared
	Measures    []MeasureDoc   `json:"measures"`              // what the figures are, by name
	Detectors   []DetectorDoc  `json:"detectors"`             // what was compared
	Folds       []FoldDoc      `json:"folds"`                 // what was left out and trained on, fold by fold
	Sessions    []Counts       `json:"sessions"`              // what became of the strikes and labels of each session
	Groups      []Group        `json:"groups"`                // figures of all strikes, then of each rig, then of each band and kind of each rig
	Certainty   []CertaintyDoc `json:"certainty,omitempty"`   // how honest what is stated is, of all rigs, then of each; absent where no detector states anything
	Detection   *Detection     `json:"detection,omitempty"`   // how well strikes are found; absent without sessions whose timed truth is complete
	Sensitivity []Sensitivity  `json:"sensitivity,omitempty"` // what the errors depend on, a rig each; absent where there are too few strikes
	// HeavyLabels are the labels that most of the best detector's error comes from, the
	// heaviest of each rig first; absent where no detector can be ranked.
	HeavyLabels []HeavyLabel `json:"heavy_labels,omitempty"`
	// Worst are the strikes of all rigs on which the best detector errs most, the worst
	// first; absent where no detector can be ranked.
	Worst          []WorstStrike   `json:"worst,omitempty"`
	WorstReasons   []ReasonCount   `json:"worst_reasons,omitempty"`   // what stands out about them, the most frequent first; absent where nothing does
	SessionEffects []SessionEffect `json:"session_effects,omitempty"` // what each session's labels do to the errors on the others; absent unless asked for (--drivers)
	Learning       []LearningCurve `json:"learning,omitempty"`        // errors against the number of labels; absent unless asked for (--learning)
	// RigToRig are the errors on rigs left out with all their revisions; absent unless asked
	// for (--rig-to-rig, --leave rig).
	RigToRig []LeftRig `json:"rig_to_rig,omitempty"`
	Skipped  []Skip    `json:"skipped,omitempty"`  // what could not be compared, and why; absent where all could
	Warnings []string  `json:"warnings,omitempty"` // what to beware of when reading the figures, in words; absent where there is nothing

	Strikes []StrikeDoc         `json:"-"` // the strikes scored, in order of session and time
	Scores  [][]Score           `json:"-"` // [detector][strike]; NaN throughout where there is no answer
	Answers [][]models.Estimate `json:"-"` // likewise

	answered [][]bool // likewise: whether there is an answer
	costs    [][]Cost // likewise: of the detector that gave it
}

// MeasureDoc tells a reader of the JSON what a measure is.
type MeasureDoc struct {
	Name   string `json:"name"`   // name under which the figures stand
	Unit   string `json:"unit"`   // unit of value, low and high: deg, m, share (from 0 to 1) or count
	Better string `json:"better"` // which way is better, one of lower, higher, zero or nominal
	Doc    string `json:"doc"`    // what it is, in a sentence
}

// DetectorDoc describes a detector that was compared.
type DetectorDoc struct {
	Name      string  `json:"name"`       // name, as train takes it
	Kind      string  `json:"kind"`       // geometry or physics without training, or learned from labels: one of models.Rule or models.Fitted
	Doc       string  `json:"doc"`        // what it is, in a sentence
	NeedsGyro bool    `json:"needs_gyro"` // whether it needs a gyroscope
	WaitMs    float64 `json:"wait_ms"`    // how long after the onset it listens, milliseconds, at least 0
}

// FoldDoc is one split: what was left out and what was trained on.
type FoldDoc struct {
	Left  string   `json:"left_out"`       // name of the session, striker, rig or revision that was left out
	Train []string `json:"train_sessions"` // names of the sessions trained on
	Test  []string `json:"test_sessions"`  // names of the sessions scored
}

// Skip is a detector that could not be compared on some strikes, and why.
type Skip struct {
	Detector string `json:"detector"` // name of the detector; all for every one
	Where    string `json:"where"`    // what it was left out of, in words
	Why      string `json:"why"`      // reason in words
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
	Rig     string `json:"rig"`     // name of the rig; empty for all
	Band    string `json:"band"`    // name of the band in the rig file; empty for all
	Kind    string `json:"kind"`    // kind of strike; empty for all
	Strikes int    `json:"strikes"` // how many strikes there are, at least 0
	// Unit is what was resampled for the intervals, one of UnitSession or UnitBlock
	// (about ten consecutive strikes).
	Unit   string  `json:"unit"`
	Units  int     `json:"units"`            // how many of those there are, at least 0
	Rows   []Row   `json:"rows"`             // figures of each detector
	Bound  *Bound  `json:"bound,omitempty"`  // least mean errors possible; absent where they cannot be computed
	Pairs  []Pair  `json:"pairs,omitempty"`  // the best detector by a measure against each other one; absent where there is nothing to compare
	Choice *Choice `json:"choice,omitempty"` // which detector to take; absent for bands and kinds
	// TooFewUnits is whether there are so few units that no difference could be told
	// from chance, however large; absent where false.
	TooFewUnits bool `json:"too_few_units,omitempty"`
}

// Row holds one detector's figures by the name of the measure.
type Row struct {
	Detector string            `json:"detector"` // name of the detector
	Figures  map[string]Figure `json:"figures"`  // figures by the name of the measure
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
	Measure    string  `json:"measure"`    // name of the measure
	Best       string  `json:"best"`       // name of the detector that is best by it
	Other      string  `json:"other"`      // name of the detector that it is compared with
	Difference Figure  `json:"difference"` // other less best, on the same strikes
	P          float64 `json:"p"`          // p value of the two-sided sign-flip test over resampling units, in [0, 1]
	PWilcoxon  float64 `json:"p_wilcoxon"` // p value of the two-sided signed-rank test, less moved by a few wild errors, in [0, 1]
	PHolm      float64 `json:"p_holm"`     // p corrected for the number of detectors compared with the best, in [0, 1]
	Distinct   bool    `json:"distinct"`   // whether that tells the two apart at the comparison's level
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
	BearingMAEDeg float64 `json:"bearing_mae_deg"` // mean size of the bearing error that the labels' own uncertainty makes, degrees, at least 0
	HeightMAEM    float64 `json:"height_mae_m"`    // likewise of the height, metres, at least 0
	PlanShare     float64 `json:"plan_share"`      // share of the labels scored against that come from a plan, in [0, 1]
	Note          string  `json:"note"`            // what that means, in words
}

// Detection scores the finder against sessions whose timed truth is complete.
type Detection struct {
	Sessions     int     `json:"sessions"`       // how many sessions have complete truth, at least 1
	Truth        int     `json:"truth"`          // how many strikes the truth lists, at least 0
	Found        int     `json:"found"`          // how many strikes were found, at least 0
	Matched      int     `json:"matched"`        // how many of both are the same, matched one to one, at least 0
	ToleranceMs  float64 `json:"tolerance_ms"`   // how far apart the onsets of a match may be, milliseconds
	Unit         string  `json:"unit"`           // what was resampled for the intervals, one of UnitSession or UnitBlock
	Units        int     `json:"units"`          // how many of those there are, at least 0
	Precision    Figure  `json:"precision"`      // share of found strikes that are in the truth
	Recall       Figure  `json:"recall"`         // share of the truth's strikes that were found
	F1           Figure  `json:"f1"`             // harmonic mean of precision and recall
	OnsetErrorMs Figure  `json:"onset_error_ms"` // mean size of found less true onset, milliseconds
	OnsetBiasMs  Figure  `json:"onset_bias_ms"`  // mean of found less true onset, milliseconds
	DelayMs      Figure  `json:"delay_ms"`       // mean time from the onset found until the finder could say so, milliseconds
	DelayP95Ms   Figure  `json:"delay_p95_ms"`   // 95th percentile of that time, milliseconds
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
