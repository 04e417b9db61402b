package report

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"strikerose/eval"
)

// FewShotText writes how detectors carry to rigs left out of their training, a
// row for each number of labels, and after them what answered.
func FewShotText(w io.Writer, rows []eval.Carried) error {
	var b strings.Builder
	b.WriteString("Each rig is left out of the training with all its revisions; then the detector\n" +
		"is adapted to it with some labelled strikes of one session and tested on the\n" +
		"others (median of the draws, worst draw in brackets).\n\n")
	fmt.Fprintf(&b, "%-*s %-8s %6s  %-13s %-13s %6s  %s\n", nameWidth, "detector", "rig", "labels", "bearing, deg", "height, cm", "flips", "in 90 %")
	var chosen []string
	name := func(detector string) string {
		if len([]rune(detector)) > nameWidth { // on a line of its own
			return detector + "\n" + strings.Repeat(" ", nameWidth)
		}
		return fmt.Sprintf("%-*s", nameWidth, detector)
	}
	for _, r := range rows {
		labels := fmt.Sprint(r.Labels)
		if r.Moved {
			labels = "moved"
		}
		height, heightCover := fmt.Sprintf("%13s", ""), ""
		if r.HeightMAEM != nil {
			height, heightCover = fmt.Sprintf("%5.2f (%5.2f)", 100**r.HeightMAEM, 100**r.HeightWorstM), fmt.Sprintf(" %3.0f%%", 100**r.HeightCover90)
		}
		fmt.Fprintf(&b, "%s %-8s %6s  %5.2f (%5.2f) %s %5.1f%%  %3.0f%%%s\n", name(r.Detector), clip(r.Rig, 8), labels,
			r.BearingMAEDeg, r.BearingWorst, height, 100*r.Flips, 100*r.BearingCover90, heightCover)
		for _, how := range slices.Sorted(maps.Keys(r.Chosen)) {
			chosen = append(chosen, fmt.Sprintf("%s %-8s %6s  %s: %d of %d draws", name(r.Detector), clip(r.Rig, 8), labels, how, r.Chosen[how], r.Draws))
		}
	}
	b.WriteString("\nmoved: trained on the rig's earlier revisions, met the last without labels.\n\n" +
		"What answered: base, form of the bearing's correction, form of the height's.\n")
	for _, line := range chosen {
		b.WriteString(line + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}
