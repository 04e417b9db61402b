package report

import (
	"fmt"
	"strings"

	"strikerose/eval"
)

func rowOf(g eval.Group, detector string) eval.Row {
	for _, r := range g.Rows {
		if r.Detector == detector {
			return r
		}
	}
	return eval.Row{}
}

func anyKnown(g eval.Group, measure string) bool {
	for _, r := range g.Rows {
		if r.Figure(measure).Known() {
			return true
		}
	}
	return false
}

// rigsOf lists how the groups of bands and kinds name their rig: "" alone when
// there is a single one.
func rigsOf(c *eval.Comparison) []string {
	var out []string
	for _, g := range c.Groups {
		if (g.Band != "" || g.Kind != "") && (len(out) == 0 || out[len(out)-1] != g.Rig) {
			out = append(out, g.Rig)
		}
	}
	return out
}

func groupTitle(g eval.Group) string {
	title := "all strikes"
	if g.Rig != "" {
		title = "rig " + g.Rig
	}
	for _, part := range []string{g.Band, g.Kind} {
		if part != "" {
			title += ", " + part
		}
	}
	return title
}

func countsOf(g eval.Group) string {
	return fmt.Sprintf("%s, %s", plural(g.Strikes, "strike"), plural(g.Units, unitName(g.Unit)))
}

func unitName(unit string) string {
	if unit == eval.UnitBlock {
		return "block"
	}
	return unit
}

func plural(n int, what string) string {
	return fmt.Sprintf("%d %s", n, oneOrMore(n, what))
}

// oneOrMore is a thing's name for one of them or for more.
func oneOrMore(n int, what string) string {
	if n == 1 {
		return what
	}
	return what + "s"
}

func splitSentence(c *eval.Comparison) string {
	sessions := map[string]bool{}
	for _, s := range c.Strikes {
		sessions[s.Session] = true
	}
	s := fmt.Sprintf("Each %s in turn is left out and scored by detectors trained on the others (%s, %s %s). Scored against %s labels", c.Leave, plural(len(sessions), "session"), oneOrMore(len(c.Rigs), "rig"), strings.Join(c.Rigs, ", "), c.ScoreTruth)
	if c.TrainTruth != c.ScoreTruth {
		s += ", trained on " + c.TrainTruth + " labels"
	}
	s += fmt.Sprintf(". Seed %d.", c.Seed)
	if c.Floor.PlanShare > 0 {
		s += fmt.Sprintf(" Errors are%s, and a plan's labels alone make mean errors of about %.1f degrees and %.1f cm: right face and right band are fairer.",
			fromMiddle(c, "called face and band"), c.Floor.BearingMAEDeg, 100*c.Floor.HeightMAEM)
	}
	return s
}

// fromMiddle says that errors are from the middle of what a plan called, and for how
// many strikes where not for all; "" where no plan was scored against.
func fromMiddle(c *eval.Comparison, called string) string {
	share := c.Floor.PlanShare
	if share <= 0 {
		return ""
	}
	s := " from the middle of the " + called
	if share < 1 {
		s += fmt.Sprintf(" for %s %% of the strikes", number(share, 100, 0))
	}
	return s
}

// question is what the comparison answers.
func question(c *eval.Comparison) string {
	unseen := map[string]string{
		eval.LeaveSession:  "in sessions",
		eval.LeaveStriker:  "by strikers",
		eval.LeaveRig:      "on rigs",
		eval.LeaveRevision: "on revisions of the rig",
	}[c.Leave]
	return "Which detector says best where a strike landed, " + unseen + " that it has not seen?"
}

// answer says in a few sentences what the first group shows. A plan's labels lie in
// the middles of faces and bands, which the sentences say.
func answer(c *eval.Comparison) []string {
	var out []string
	for _, m := range []struct {
		measure, what, unit, called string
		scale                       float64
	}{
		{eval.BearingMAE, "around the bag", "degrees", "called face", 1},
		{eval.HeightMAE, "up and down", "cm", "called band", 100},
	} {
		if s := leader(c.Groups[0], m.measure, m.what, m.unit, m.scale, fromMiddle(c, m.called)); s != "" {
			out = append(out, s)
		}
	}
	if best := bestOf(c.Groups[0], eval.BearingMAE); best != "" {
		row := rowOf(c.Groups[0], best)
		out = append(out, fmt.Sprintf("%s puts %s %% of the strikes on the right face and is more than %d degrees off in %s %%.", best,
			number(row.Figure("right_face_share").Value, 100, 1), eval.FlipDeg, number(row.Figure("flip_share").Value, 100, 1)))
	}
	return out
}

// inThree answers the question in three sentences: around the bag, up and down,
// and what to put on a board, or how good the best is where that is not judged.
func inThree(c *eval.Comparison) []string {
	out := answer(c)
	third := choiceSentence(c)
	if third == "" {
		return out
	}
	last := len(out)
	if bestOf(c.Groups[0], eval.BearingMAE) != "" {
		last-- // the one about faces and flips
	}
	return append(out[:last:last], third)
}

// choiceSentence says which detector to take; "" where no verdict says so.
func choiceSentence(c *eval.Comparison) string {
	var met []string
	for _, g := range wholeRigs(c) {
		if g.Choice == nil || g.Choice.Verdict == nil {
			continue
		}
		v := g.Choice.Verdict
		if g.Rig == "" {
			return sentence(strings.ToUpper(v.Sentence[:1]) + v.Sentence[1:])
		}
		goal := fmt.Sprintf("%s and %s", plural(v.Goal.Faces, "face"), plural(v.Goal.Bands, "band"))
		switch {
		case v.Met && v.Sure:
			met = append(met, fmt.Sprintf("on rig %s take %s (%s)", g.Rig, v.Detector, goal))
		case v.Met:
			met = append(met, fmt.Sprintf("on rig %s take %s (%s, not yet sure)", g.Rig, v.Detector, goal))
		case v.Detector != "":
			met = append(met, fmt.Sprintf("on rig %s %s comes nearest and misses it (%s)", g.Rig, v.Detector, goal))
		}
	}
	if len(met) == 0 {
		return ""
	}
	return fmt.Sprintf("For %s %% of the strikes on the right face and in the right band at the least cost: %s.", number(eval.RightShare, 100, 0), strings.Join(met, "; "))
}

// trainCommand trains the detector to take; "" where the verdicts on the rigs name
// none or not the same.
func trainCommand(c *eval.Comparison) string {
	take := ""
	for _, g := range wholeRigs(c) {
		switch {
		case g.Choice == nil || g.Choice.Verdict == nil || !g.Choice.Verdict.Met:
			return ""
		case take != "" && take != g.Choice.Verdict.Detector:
			return ""
		}
		take = g.Choice.Verdict.Detector
	}
	if take == "" {
		return ""
	}
	return "strikerose train --detector " + take + " -o detector.json"
}

// bestOf is the detector with the least value of a measure; "" without any.
func bestOf(g eval.Group, measure string) string {
	best, least := "", 0.0
	for _, r := range g.Rows {
		if f := r.Figure(measure); f.Known() && (best == "" || f.Value < least) {
			best, least = r.Detector, f.Value
		}
	}
	return best
}

// leader says which detector errs least by a measure and which cannot be told from
// it; from is what the errors are from, where that needs to be said.
func leader(g eval.Group, measure, what, unit string, scale float64, from string) string {
	best := bestOf(g, measure)
	if best == "" {
		return ""
	}
	f := rowOf(g, best).Figure(measure)
	s := fmt.Sprintf("%s, %s errs least: by %s %s on average", what, best, number(f.Value, scale, 1), unit)
	if f.HasInterval() {
		s += " " + interval(f, scale, 1)
	}
	s += from
	var tied []string
	for _, r := range g.Rows {
		if g.Mark(r.Detector, measure) == eval.MarkTied {
			tied = append(tied, r.Detector)
		}
	}
	if len(tied) > 0 {
		s += "; " + strings.Join(tied, ", ") + " cannot be told from it"
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

// notes are the sentences that the tables need: marks, intervals, floor,
// warnings, what was left out.
func notes(c *eval.Comparison) []string {
	var out []string
	compared := 0
	for _, p := range c.Groups[0].Pairs {
		if p.Measure == eval.BearingMAE {
			compared++
		}
	}
	if compared > 0 {
		out = append(out, fmt.Sprintf("%s least mean error; %s cannot be told from it on the same strikes (sign-flip test over resampling units, two-sided at %.3g %%, Holm-corrected for %s with the best).",
			eval.MarkBest, eval.MarkTied, 100-100*c.Level, plural(compared, "comparison")))
	}
	out = append(out, fmt.Sprintf("Intervals hold %.3g %%: bootstrap over resampling units, %d resamples; bias-corrected and accelerated, percentile for medians and percentiles, exact where a share is 0 or 100 %%.", 100*c.Level, c.Resamples))
	out = append(out, choiceNotes(c)...)
	if note := sensitivityNote(c); note != "" {
		out = append(out, note)
	}
	out = append(out, driverNotes(c)...)
	if note := learningNote(c); note != "" {
		out = append(out, note)
	}
	if note := boundNote(c); note != "" {
		out = append(out, note)
	}
	out = append(out, sentence("Truth: "+c.Floor.Note))
	if c.TrainTruth != c.ScoreTruth {
		out = append(out, sentence("Trained on "+c.TrainTruth+" labels, scored against "+c.ScoreTruth+": a detector calibrates its intervals on the labels that it is trained on, with their scatter"))
	}
	for _, w := range c.Warnings {
		out = append(out, sentence("Warning: "+w))
	}
	if few := tooFew(c); few != "" {
		out = append(out, few)
	}
	for _, s := range c.Skipped {
		out = append(out, sentence(fmt.Sprintf("Left out: %s: %s: %s", s.Detector, s.Where, s.Why)))
	}
	return append(out, sessionNotes(c)...)
}

// tooFew says where no difference could be told from chance however large.
func tooFew(c *eval.Comparison) string {
	var parts []string
	for _, g := range c.Groups {
		if g.TooFewUnits {
			parts = append(parts, fmt.Sprintf("%s (%s)", groupTitle(g), plural(g.Units, unitName(g.Unit))))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "Warning: too few resampling units to tell any difference from chance, whatever its size, so that " + eval.MarkTied + " says nothing there: " + strings.Join(parts, "; ") + "."
}

func sentence(s string) string { return strings.TrimSuffix(s, ".") + "." }

func sessionNotes(c *eval.Comparison) []string {
	var unlabelled, not, orphans, found, part int
	for _, s := range c.Sessions {
		found += s.Found
		unlabelled += s.Unlabelled
		not += s.NotStrikes
		orphans += s.OrphanLabels
		part += s.PartLabels
	}
	out := []string{fmt.Sprintf("Of %d finds %d have no label and %d are labelled as no strike; both are left out. %s no find nearby.",
		found, unlabelled, not, labelsHave(orphans))}
	if part > 0 {
		out = append(out, fmt.Sprintf("Not trained on: %d labels that say only where around, or only how high, a strike landed.", part))
	}
	return out
}

func labelsHave(n int) string {
	if n == 1 {
		return "1 label has"
	}
	return fmt.Sprintf("%d labels have", n)
}

// detectionRow is one line about the finder.
type detectionRow struct {
	Title, Unit string
	Figure      eval.Figure
	Scale       float64
	Digits      int
}

func detectionRows(d *eval.Detection) []detectionRow {
	return []detectionRow{
		{"precision", "%", d.Precision, 100, 2},
		{"recall", "%", d.Recall, 100, 2},
		{"F1", "%", d.F1, 100, 2},
		{"onset error, mean", "ms", d.OnsetErrorMs, 1, 2},
		{"onset bias (found minus true)", "ms", d.OnsetBiasMs, 1, 2},
		{"delay of the decision, mean", "ms", d.DelayMs, 1, 1},
		{"delay of the decision, 95th", "ms", d.DelayP95Ms, 1, 1},
	}
}
