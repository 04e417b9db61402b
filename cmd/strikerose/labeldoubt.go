package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"strikerose/eval"
	"strikerose/eval/doubt"
	"strikerose/eval/report"
	"strikerose/label"
)

// doubtColumns are the columns of label doubt's CSV.
var doubtColumns = [...]string{"session", "onset_s", "kind_of_doubt", "score", "label_face", "label_band",
	"predicted_face", "predicted_height_m", "predicted_bearing_deg", "bearing_sd_deg", "height_sd_m",
	"strike", "end_s", "last_strike", "labels", "reason", "mend"}

type labelDoubtFlags struct {
	selection
	truth, out string
}

func newLabelDoubt(a *app) *cobra.Command {
	var f labelDoubtFlags
	cmd := &cobra.Command{
		Use:   "doubt",
		Short: "Rank the labels that are probably wrong",
		Long: `Rank the labels that are probably wrong, so that they are checked from the top:
slips of a plan, mirrored or turned faces, wrong faces and bands, strikes labelled
twice, windows unlike any other. Each label is judged by estimates that it had no
part in: of the rule physics, and of complex-ridge trained on other sessions. A
score is the probability that the label is wrong. Nothing is changed: each doubt
says what would mend it.`,
		Example: `strikerose label doubt -C gym
strikerose label doubt -C gym --truth plan -o doubts.csv`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := oneOf(cmd, "truth", f.truth, eval.Truths()); err != nil {
				return err
			}
			return runLabelDoubt(cmd.Context(), a, f)
		},
	}
	f.selection.flags(cmd)
	cmd.Flags().StringVar(&f.truth, "truth", label.Best, "the `TRUTH` to judge: "+strings.Join(eval.Truths(), ", "))
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "write the doubts to this CSV `FILE`; - is standard output")
	return cmd
}

func runLabelDoubt(ctx context.Context, a *app, f labelDoubtFlags) error {
	rule, err := familyNamed("physics")
	if err != nil {
		return err
	}
	fitted, err := familyNamed("complex-ridge")
	if err != nil {
		return err
	}
	c, sessions, err := a.open(f.selection)
	if err != nil {
		return err
	}
	p := a.progress("judging labels", int64(len(sessions)), false)
	r, err := doubt.Find(ctx, source{c}, sessions, doubt.Options{Truth: f.truth, Rule: rule, Fitted: fitted, Seed: a.seed, Progress: p})
	p.Done()
	if err != nil {
		return withHint(fmt.Errorf("label %w", err), "strikerose label plan and strikerose label truth add labels; strikerose label list shows them")
	}
	for _, n := range r.Notes {
		a.warn("label doubt: %s", n)
	}
	if f.out != "" {
		if err := a.writeOutput(f.out, func(w io.Writer) error { return writeDoubts(w, r.Doubts) }); err != nil {
			return err
		}
		if f.out == "-" {
			return nil
		}
		a.note("wrote %s", f.out)
	}
	if a.json {
		return printJSON(a.out, doubtsJSON(r))
	}
	return printDoubts(a.out, r)
}

// printDoubts writes doubts for people, no line longer than 80 columns.
func printDoubts(w io.Writer, r *doubt.Report) error {
	const indent = "       "
	var b strings.Builder
	kind := "label"
	if r.Truth != label.Best {
		kind = r.Truth + " label"
	}
	judged := 0
	for _, s := range r.Sessions {
		if s.Scored > 0 {
			judged++
		}
	}
	fmt.Fprintf(&b, "%s judged in %s: %s. Nothing is changed.\n", counted(r.Labels, kind),
		counted(judged, "session"), counted(len(r.Doubts), "doubt"))
	for _, d := range r.Doubts {
		at := secondsText(d.OnsetNs)
		if d.EndNs != d.OnsetNs {
			at += " to " + secondsText(d.EndNs)
		}
		fmt.Fprintf(&b, "\n%.3f  %s, %s s: %s\n", d.Score, d.Session, at, d.Kind)
		if d.Labels > 1 {
			b.WriteString(report.Wrap(counted(d.Labels, "label")+" wrong", indent))
		}
		b.WriteString(report.Wrap(d.Reason, indent))
		b.WriteString(report.Wrap("mend: "+d.Mend, indent))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func writeDoubts(w io.Writer, doubts []doubt.Doubt) error {
	out := csv.NewWriter(w)
	out.Write(doubtColumns[:]) // errors stay until Flush
	number := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	for _, d := range doubts {
		out.Write([]string{d.Session, secondsText(d.OnsetNs), string(d.Kind), fixed(d.Score, 4),
			number(d.Label.Face), d.Label.Band, number(d.Predicted.Face), heightText(d.Predicted.HeightM),
			bearingText(d.Predicted.BearingDeg), fixed(d.Predicted.BearingSDDeg, 2), heightText(d.Predicted.HeightSDM),
			number(d.Number), secondsText(d.EndNs), number(d.EndNumber), number(d.Labels), d.Reason, d.Mend})
	}
	out.Flush()
	return out.Error()
}

// doubted is what label doubt prints as JSON.
type doubted struct {
	Truth    string         `json:"truth"`    // labels that were judged, one of eval.Truths
	Labels   int            `json:"labels"`   // how many that were, at least 0
	Doubts   []doubtLine    `json:"doubts"`   // labels, and stretches of labels, that are probably wrong, the surest first
	Opinions []doubtOpinion `json:"opinions"` // how well the detectors that judged agree with the labels of each rig
}

// doubtLine is a label, or a stretch of labels, that is probably wrong.
type doubtLine struct {
	Session string `json:"session"` // name of the session
	// OnsetS is the first instant of contact of the strike, or of the first of a stretch,
	// seconds from the session's first sample on the repaired clock.
	OnsetS float64 `json:"onset_s"`
	// Kind is what is probably wrong; slip, mirrored, rotated, turned and same samples
	// are about a stretch of labels.
	Kind      doubt.Kind `json:"kind_of_doubt"`
	Score     float64    `json:"score"`     // probability that the label is wrong, in [0, 1]
	Label     doubtPlace `json:"label"`     // where the label puts the strike; empty for a stretch
	Predicted doubtPlace `json:"predicted"` // where the detectors put it; empty for a stretch
	// Strike is the number of the strike, or of the first of a stretch, among those found,
	// from 1; absent where none was found there.
	Strike     int     `json:"strike,omitempty"`
	EndS       float64 `json:"end_s"`                 // onset of the last strike of a stretch, else onset_s again, seconds
	LastStrike int     `json:"last_strike,omitempty"` // number of the last strike of a stretch, else that of strike; absent where none was found there
	Labels     int     `json:"labels"`                // how many labels are wrong if the doubt is right, at least 0
	// By is of a slip, how many strikes later those lie whose labels these are, below 0
	// for earlier; absent for other doubts.
	By int `json:"by,omitempty"`
	// Sense is of a session mirrored, rotated or turned, the sense of its faces: +1
	// clockwise, -1 anticlockwise; +1 for other doubts, in [-1, 1].
	Sense int `json:"sense"`
	// TurnDeg is degrees clockwise, in (-180, 180]. Of a session mirrored or rotated, true
	// bearing = sense x label + turn_deg, on the circle; of one turned, it is how far the
	// sensor is turned against the rig's other sessions; 0 for other doubts.
	TurnDeg float64 `json:"turn_deg"`
	Reason  string  `json:"reason"` // why it is doubted, in words
	Mend    string  `json:"mend"`   // what to do about it, in words
}

// doubtPlace is where something puts a strike.
type doubtPlace struct {
	Face int    `json:"face,omitempty"` // face from 1, clockwise, at least 1; absent where it is not said
	Band string `json:"band,omitempty"` // name of the band in the rig file; absent where it is not said
	// BearingDeg is degrees clockwise seen from above from the middle of face 1, in
	// [0, 360); null where it is not said.
	BearingDeg   *float64 `json:"bearing_deg"`
	HeightM      *float64 `json:"height_m"`       // metres above the bag's bottom edge; null where it is not said
	BearingSDDeg *float64 `json:"bearing_sd_deg"` // standard deviation of that bearing, degrees, at least 0; null where it is not said
	HeightSDM    *float64 `json:"height_sd_m"`    // standard deviation of that height, metres, at least 0; null where it is not said
}

// doubtOpinion is how well a detector's estimates agree with the labels of a rig.
type doubtOpinion struct {
	Rig      string  `json:"rig"`      // key of the rig, NAME-rREV
	Detector string  `json:"detector"` // name of the detector
	Labels   int     `json:"labels"`   // how many labels it judged, at least 0
	Weight   float64 `json:"weight"`   // share that its opinion counts for, in [0, 1]
	// BearingDeg is the median size of its difference from the labels' bearings, degrees, in
	// [0, 180]; null where there is none.
	BearingDeg *float64 `json:"median_bearing_difference_deg"`
	HeightM    *float64 `json:"median_height_difference_m"` // likewise from the labels' heights, metres, at least 0; null where there is none
}

func doubtsJSON(r *doubt.Report) doubted {
	out := doubted{Truth: r.Truth, Labels: r.Labels, Doubts: []doubtLine{}, Opinions: []doubtOpinion{}}
	place := func(p doubt.Place) doubtPlace {
		return doubtPlace{p.Face, p.Band, known(p.BearingDeg), known(p.HeightM), known(p.BearingSDDeg), known(p.HeightSDM)}
	}
	for _, d := range r.Doubts {
		out.Doubts = append(out.Doubts, doubtLine{
			Session: d.Session, OnsetS: time.Duration(d.OnsetNs).Seconds(), Kind: d.Kind, Score: d.Score,
			Label: place(d.Label), Predicted: place(d.Predicted), Strike: d.Number, EndS: time.Duration(d.EndNs).Seconds(),
			LastStrike: d.EndNumber, Labels: d.Labels, By: d.By, Sense: d.Sense, TurnDeg: d.TurnDeg, Reason: d.Reason, Mend: d.Mend,
		})
	}
	for _, o := range r.Opinions {
		out.Opinions = append(out.Opinions, doubtOpinion{o.Rig, o.Detector, o.Labels, o.Weight, known(o.BearingDeg), known(o.HeightM)})
	}
	return out
}
