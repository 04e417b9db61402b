package report

import (
	"fmt"

	"strikerose/eval"
)

// driverTables write which labels the error comes from, and which sessions of
// the training it depends on.
func (t *textWriter) driverTables() {
	if list := t.c.HeavyLabels; len(list) > 0 {
		t.line("")
		t.line("labels that most of the error of %s comes from", list[0].Detector)
		t.line("%-26s%11s%8s%8s%10s%16s", "session", "onset, s", "deg", "cm", "share, %", "others with it")
		for _, l := range list {
			t.line("%-26s%11.3f%8s%8s%10s%16s", clip(l.Session, 25), l.OnsetS, number(l.BearingErrDeg, 1, 1), number(l.HeightErrM, 100, 1), number(l.Share, 100, 1), againstWords(l))
		}
	}
	if list := t.c.SessionEffects; len(list) > 0 {
		t.line("")
		t.line("mean errors of %s on the other sessions, when one is not trained on", list[0].Detector)
		t.line("%-28s%7s%7s %-15s%6s %s", "session left out of training", "labels", "deg", "", "cm", "")
		for _, e := range list {
			t.line("%-28s%7d%7s %-15s%6s %s", clip(e.Session, 27), e.Labels, signed(e.Bearing, 1), interval(e.Bearing, 1, 2), signed(e.Height, 100), interval(e.Height, 100, 2))
		}
	}
}

func againstWords(l eval.HeavyLabel) string { return fmt.Sprintf("%d of %d", l.Against, l.Others) }

// signed writes a change with its sign and two decimals.
func signed(f eval.Figure, scale float64) string {
	s := number(f.Value, scale, 2)
	if f.Value > 0 && s != number(0, 1, 2) {
		s = "+" + s
	}
	return s
}

// driverNotes say what the tables of drivers mean.
func driverNotes(c *eval.Comparison) []string {
	var out []string
	if len(c.HeavyLabels) > 0 {
		out = append(out, "Others with it: how many of the other detectors come nearer to this answer than to the label. Where most do, look at the label (strikerose label doubt); detectors err alike, so it need not be wrong.")
	}
	if len(c.SessionEffects) > 0 {
		out = append(out, "A session whose absence raises the errors of the others (+) helps; one that lowers them (-) may be labelled badly or be unlike the rest.")
	}
	return out
}

// effectRows are the effects of sessions of a page; the labels stand there with
// their traces.
func effectRows(c *eval.Comparison) []htmlRow {
	var out []htmlRow
	for _, e := range c.SessionEffects {
		out = append(out, htmlRow{Name: e.Session, Cells: []htmlCell{
			{Value: fmt.Sprint(e.Labels)}, {Value: signed(e.Bearing, 1), Interval: interval(e.Bearing, 1, 2)}, {Value: signed(e.Height, 100), Interval: interval(e.Height, 100, 2)}}})
	}
	return out
}
