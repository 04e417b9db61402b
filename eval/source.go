package eval

import (
	"context"
	"math"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/label"
	"strikerose/models"
)

// Source is what the evaluation needs of a corpus.
type Source interface {
	// Rig returns a rig by its key NAME-rREV.
	Rig(key string) (*rig.Rig, error)
	// Signal returns a session's samples.
	Signal(ctx context.Context, session string) (*dataset.Signal, error)
	// Claims returns a session's label claims, in the order of its journal.
	Claims(session string) ([]label.Claim, error)
}

// Truths lists the truths that can be preferred: one source of claims, or the
// best there is of each strike (timed before hand before plan).
func Truths() []string { return []string{label.Timed, label.Hand, label.Plan, label.Best} }

// Target is where a label says that a strike landed. HeightM is NaN and Band
// empty where the label does not say.
type Target struct {
	BearingDeg   float64
	HeightM      float64
	BearingSDDeg float64 // the label's own uncertainty, 0 where unknown
	HeightSDM    float64
	Face         int
	Band         string
	Kind         string
	Source       string // timed, hand or plan
	Confidence   float64
}

// Case is one found strike with what a detector may see of it and with the
// labels that it is trained on and scored against; nil where that truth says
// nothing of it.
type Case struct {
	Session string
	Striker string
	Rig     *rig.Rig
	Strike  dataset.Strike
	Row     features.Row
	Window  *dataset.Window
	SinceS  float64 // since the find before it in its session, +Inf for the first; 0 where not known
	Train   *Target
	Score   *Target
}

// input is what a detector sees of the case.
func (c Case) input() models.Input {
	return models.Input{Row: c.Row, Rig: c.Rig, Window: c.Window}
}

// Counts says what became of a session's strikes and labels.
type Counts struct {
	Session    string `json:"session"`     // name of the session
	Rig        string `json:"rig"`         // key of its rig, NAME-rREV
	Striker    string `json:"striker"`     // who struck; empty where not known
	Found      int    `json:"found"`       // how many strikes were found in the samples, at least 0
	NotStrikes int    `json:"not_strikes"` // how many of them are labelled as no strike, at least 0
	Unlabelled int    `json:"unlabelled"`  // how many of them have no label to score against, at least 0
	Scored     int    `json:"scored"`      // how many of them have one, at least 0
	Trained    int    `json:"trained"`     // how many of them have a label to train on, at least 0
	// PartLabels is how many labels say only where around or only how high, and are not
	// trained on, at least 1; absent where there are none.
	PartLabels    int     `json:"part_labels,omitempty"`
	OrphanLabels  int     `json:"orphan_labels"`        // how many labels no found strike is near, at least 0
	NoiseMPS2     float64 `json:"noise_mps2,omitempty"` // root mean square still noise of the accelerometer's three axes, m/s², at least 0; absent where not known
	CompleteTruth bool    `json:"complete_truth"`       // whether its timed truth lists every strike
	TruthStrikes  int     `json:"truth_strikes"`        // how many strikes that truth lists, at least 0; 0 where it is not complete
}

// JoinOptions says which labels are used.
type JoinOptions struct {
	TrainTruth string // "" is as ScoreTruth
	ScoreTruth string // "" is best
	Workers    int    // sessions at once; 0 is the number of processors
	Progress   Progress
}

// Progress is told of each session that is done. Add is called from several
// goroutines at once.
type Progress interface{ Add(n int64) }

// Data is what Examples joins: the cases in order of session, then time.
type Data struct {
	TrainTruth string
	ScoreTruth string
	Cases      []Case
	Counts     []Counts // a session each, in the order of the sessions given
	Detection  []DetectionSession
}

// DetectionSession is what scoring the finder on one session needs.
type DetectionSession struct {
	Session string
	FoundNs []int64
	ReadyNs []int64 // when the finder could say so
	TruthNs []int64

	stretches [][2]int64 // in which the truth is complete, first and last nanosecond
}

// trainable tells whether the label to train on says both where around and how
// high the strike landed.
func (c Case) trainable() bool {
	return c.Train != nil && !math.IsNaN(c.Train.BearingDeg) && !math.IsNaN(c.Train.HeightM)
}
