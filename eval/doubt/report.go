package doubt

import (
	"context"

	"strikerose/dataset"
	"strikerose/eval"
	"strikerose/label"
	"strikerose/models"
)

// Kind is what may be wrong with labels.
type Kind string

// Kinds of doubt. Slip, Mirrored, Rotated, Turned and SameSamples are about a
// stretch of labels, the others about one.
const (
	Slip        Kind = "slip"          // labels belong to strikes before or after
	Mirrored    Kind = "mirrored"      // faces numbered anticlockwise
	Rotated     Kind = "rotated"       // faces counted from another one
	Turned      Kind = "turned"        // the sensor sits turned against other sessions
	Opposite    Kind = "opposite face" // half a turn off
	WrongFace   Kind = "wrong face"
	WrongBand   Kind = "wrong band"
	WrongBoth   Kind = "wrong place" // face and band
	Swapped     Kind = "swapped"     // with the label of the next strike
	NoStrike    Kind = "no strike"   // a shove or a blip
	OddWindow   Kind = "odd window"  // unlike any other
	Twice       Kind = "twice"       // a strike with two labels of one source
	SameSamples Kind = "same samples"
)

// Options of the search.
type Options struct {
	Truth    string        // labels to judge: timed, hand, plan or best; "" is best
	Rule     models.Family // the first opinion: a rule that gives bearing and height
	Fitted   models.Family // the second; without a Fit there is none
	Seed     uint64
	Workers  int // sessions at once; 0 is the number of processors
	Progress eval.Progress
}

// Place is where something says that a strike landed. Face is 0 and Band empty,
// the numbers NaN, where it does not say.
type Place struct {
	Face                    int
	Band                    string
	BearingDeg, HeightM     float64
	BearingSDDeg, HeightSDM float64
}

// Doubt is one label, or one stretch of labels of a session, that is probably
// wrong.
type Doubt struct {
	Session string
	Kind    Kind
	Score   float64 // probability that the label is wrong

	// The first and the last strike that it is about, the same for one label:
	// onset and number among the strikes found.
	OnsetNs, EndNs    int64
	Number, EndNumber int
	Labels            int // that are wrong if it is right; labels that are right by luck do not count

	Label, Predicted Place // of one label
	By               int   // of a slip: the labels are those of the strikes so many later (negative: earlier)
	Sense            int   // of Mirrored, Rotated and Turned: sense of the faces, +1 clockwise, -1 anticlockwise; of others +1

	// TurnDeg is, in (-180, 180], of Mirrored and Rotated what to add: true bearing =
	// Sense x label + TurnDeg, on the circle. Of Turned it is how far clockwise the
	// sensor is turned against the rig's other sessions.
	TurnDeg float64

	Reason, Mend string
}

// Judged is the score of one label, doubted or not; in a mirrored or rotated
// session that of the label once its faces are renumbered.
type Judged struct {
	Session string
	OnsetNs int64
	Score   float64
}

// Opinion says how well a detector's estimates agree with the labels of a rig
// revision.
type Opinion struct {
	Rig, Detector string
	Labels        int
	Weight        float64 // in the mixture
	BearingDeg    float64 // median size of the difference from the labels
	HeightM       float64
}

// Report is the outcome of Find.
type Report struct {
	Truth    string
	Sessions []eval.Counts
	Labels   int // judged
	Doubts   []Doubt
	Judged   []Judged // every label, in order of session and time
	Opinions []Opinion
	Notes    []string
}

// least is the score from which a doubt is told.
const least = 0.2

// Find judges the labels of sessions. Doubts come by falling score. Sessions
// without labels are told in the notes; no label at all is an error.
func Find(ctx context.Context, src eval.Source, sessions []dataset.Session, o Options) (*Report, error) {
	if o.Truth == "" {
		o.Truth = label.Best
	}
	d, err := eval.Examples(ctx, src, sessions, eval.JoinOptions{ScoreTruth: o.Truth, Workers: o.Workers, Progress: o.Progress})
	if err != nil {
		return nil, err
	}
	r, err := Judge(ctx, d, o)
	if err != nil {
		return nil, err
	}
	twice, err := labelledTwice(src, sessions, o.Truth)
	if err != nil {
		return nil, err
	}
	same, err := sameSamples(ctx, src, d)
	if err != nil {
		return nil, err
	}
	r.Doubts = append(append(r.Doubts, twice...), same...)
	rank(r.Doubts)
	return r, nil
}
