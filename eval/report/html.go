package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"strikerose/eval"
)

//go:embed page.gohtml
var pageTemplate string

//go:embed page.css
var pageStyle string

// page is what the template is filled with.
type page struct {
	Style     template.CSS
	Question  string
	Answer    []string
	Split     string
	Sections  []htmlSection
	Detection []htmlDetection
	Found     string
	Notes     []string
	Made      []fact
	Sessions  []eval.Counts
	Learning  []htmlLearning
	Certainty []htmlCertainty
	Depends   []htmlSensitivity
	Drivers   *htmlDrivers
}

type fact struct{ Name, Value string }

type htmlSection struct {
	Title, Counts, Level string
	Rows                 []htmlRow
	Costs                []htmlRow
	Beaten               string
	Map                  template.HTML
	Landed               string
	Break                []htmlBreak
	Cards                []htmlCard
}

type htmlRow struct {
	Name, Kind string
	Cells      []htmlCell
}

// htmlCell is a number with its interval, mark and distance to the bound.
type htmlCell struct {
	Mark, Value, Interval, Distance string
}

type htmlBreak struct {
	Title  string
	Heads  []string
	Counts []int
	Rows   []htmlRow
}

type htmlCard struct {
	Name, Kind, Doc, Summary string
	Rose, Around, UpDown     template.HTML
	Faces, Bands             confusion
}

type htmlDetection struct{ Title, Value, Interval string }

// HTML writes one self-contained page: no scripts, nothing to fetch, fit for
// light and dark screens and for paper.
func HTML(w io.Writer, c *eval.Comparison, m Meta) error {
	p := page{
		Style:    template.CSS(pageStyle),
		Question: question(c),
		Answer:   unbroken(append(verdicts(c), answer(c)...)), Split: splitSentence(c), Notes: unbroken(notes(c)), Made: madeFrom(c, m), Sessions: c.Sessions,
		Depends: buildSensitivity(c), Drivers: buildDrivers(c),
	}
	several := len(rigsOf(c)) > 1
	for _, g := range c.Groups {
		if g.Band != "" || g.Kind != "" {
			continue
		}
		s, err := buildSection(c, g, several && g.Rig == "")
		if err != nil {
			return err
		}
		p.Sections = append(p.Sections, s)
	}
	var err error
	if p.Certainty, err = buildCertainty(c); err != nil {
		return err
	}
	if p.Learning, err = buildLearning(c); err != nil {
		return err
	}
	if d := c.Detection; d != nil {
		p.Found = fmt.Sprintf("%d of %d strikes in %s with complete timed truth were found, and %d finds were no strike.", d.Matched, d.Truth, plural(d.Sessions, "session"), d.Found-d.Matched)
		for _, r := range detectionRows(d) {
			p.Detection = append(p.Detection, htmlDetection{r.Title + ", " + r.Unit, number(r.Figure.Value, r.Scale, r.Digits), interval(r.Figure, r.Scale, r.Digits)})
		}
	}
	t, err := template.New("page").Parse(pageTemplate)
	if err != nil {
		return fmt.Errorf("report: page template: %w", err)
	}
	var b bytes.Buffer
	if err := t.Execute(&b, p); err != nil {
		return fmt.Errorf("report: page: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}

// unbroken keeps units on the line of their numbers.
func unbroken(sentences []string) []string {
	keep := strings.NewReplacer(" %", "\u00a0%", " cm", "\u00a0cm", " degrees", "\u00a0degrees")
	for i, s := range sentences {
		sentences[i] = keep.Replace(s)
	}
	return sentences
}

// tableColumns are the columns of a section's table.
func tableColumns() []struct {
	measure string
	scale   float64
	digits  int
	doubt   bool // with interval
} {
	return []struct {
		measure string
		scale   float64
		digits  int
		doubt   bool
	}{
		{eval.BearingMAE, 1, 1, true},
		{"bearing_median_deg", 1, 1, false},
		{"bearing_p95_deg", 1, 1, false},
		{"bearing_bias_deg", 1, 1, false},
		{"flip_share", 100, 1, true},
		{"right_face_share", 100, 1, true},
		{"bearing_cover90_share", 100, 0, false},
		{eval.HeightMAE, 100, 1, true},
		{"height_rms_m", 100, 1, false},
		{"height_bias_m", 100, 1, false},
		{"right_band_share", 100, 1, true},
		{"height_cover90_share", 100, 0, false},
	}
}

// buildSection fills the part of the page about one rig; over several rigs
// there is only the table, since faces and heights need not be the same.
func buildSection(c *eval.Comparison, g eval.Group, tableOnly bool) (htmlSection, error) {
	out := htmlSection{Title: groupTitle(g), Counts: countsOf(g), Level: fmt.Sprintf("%.3g", 100*c.Level)}
	kind := map[string]string{}
	for _, d := range c.Detectors {
		kind[d.Name] = d.Kind
	}
	for _, row := range g.Rows {
		h := htmlRow{Name: row.Detector, Kind: kind[row.Detector]}
		for _, col := range tableColumns() {
			f := row.Figure(col.measure)
			cell := htmlCell{Mark: g.Mark(row.Detector, col.measure), Value: number(f.Value, col.scale, col.digits)}
			if col.doubt {
				cell.Interval = interval(f, col.scale, col.digits)
			}
			cell.Distance = distanceWords(g, col.measure, f)
			h.Cells = append(h.Cells, cell)
		}
		out.Rows = append(out.Rows, h)
	}
	out.Costs, out.Beaten = costRows(g)
	if tableOnly {
		return out, nil
	}
	s := sectionOf(c, g)
	out.Landed = s.landed()
	out.Break = []htmlBreak{
		breakTable(c, g.Rig, eval.BearingMAE, "Mean bearing error, degrees", 1),
		breakTable(c, g.Rig, eval.HeightMAE, "Mean height error, cm", 100),
		breakTable(c, g.Rig, eval.Faces95, "Equal faces told apart at 95 %", 1),
		breakTable(c, g.Rig, eval.Bands95, "Equal bands told apart at 95 %", 1),
	}
	var err error
	if out.Map, err = bagMapSVG(s); err != nil {
		return out, err
	}
	for k, d := range c.Detectors {
		row := rowOf(g, d.Name)
		if row.Detector == "" {
			continue
		}
		card, err := buildCard(s, k, row)
		if err != nil {
			return out, err
		}
		out.Cards = append(out.Cards, card)
	}
	return out, nil
}

func buildCard(s section, detector int, row eval.Row) (htmlCard, error) {
	d, scores := s.c.Detectors[detector], s.scores(detector)
	card := htmlCard{Name: d.Name, Kind: d.Kind, Doc: d.Doc}
	bearingWords := fmt.Sprintf("%s° off on average, %s %% flips", number(row.Figure(eval.BearingMAE).Value, 1, 1), number(row.Figure("flip_share").Value, 100, 1))
	card.Summary = bearingWords
	heights := row.Figure(eval.HeightMAE)
	if heights.Known() {
		card.Summary += fmt.Sprintf("; %s cm up or down", number(heights.Value, 100, 1))
	}
	r := newRose(scores, s.faces)
	r.biasDeg = row.Figure("bearing_bias_deg").Value
	var err error
	if card.Rose, err = roseSVG(d.Name, r, bearingWords); err != nil {
		return card, err
	}
	if card.Around, err = sideSVG(fmt.Sprintf("Bearing errors of %s against the true height: %s", d.Name, bearingWords), bearingSide(s, scores)); err != nil {
		return card, err
	}
	if heights.Known() {
		title := fmt.Sprintf("Height errors of %s against the true height: %s cm off on average, bias %s cm", d.Name,
			number(heights.Value, 100, 1), number(row.Figure("height_bias_m").Value, 100, 1))
		if card.UpDown, err = sideSVG(title, heightSide(s, scores)); err != nil {
			return card, err
		}
	}
	card.Faces, card.Bands = s.faceConfusion(detector), s.bandConfusion(detector)
	return card, nil
}

// breakTable lists a mean error by band and kind of one rig.
func breakTable(c *eval.Comparison, rig, measure, title string, scale float64) htmlBreak {
	out := htmlBreak{Title: title}
	var groups []eval.Group
	for _, g := range c.Groups {
		if g.Rig == rig && (g.Band != "" || g.Kind != "") && anyKnown(g, measure) {
			groups = append(groups, g)
			out.Heads = append(out.Heads, g.Band+g.Kind)
			out.Counts = append(out.Counts, g.Strikes)
		}
	}
	for _, d := range c.Detectors {
		row, any := htmlRow{Name: d.Name}, false
		for _, g := range groups {
			f := rowOf(g, d.Name).Figure(measure)
			any = any || f.Known()
			row.Cells = append(row.Cells, htmlCell{Mark: g.Mark(d.Name, measure), Value: cellOf(measure, f, scale), Interval: cellInterval(measure, f, scale), Distance: distanceWords(g, measure, f)})
		}
		if any {
			out.Rows = append(out.Rows, row)
		}
	}
	return out
}

// madeFrom lists what the numbers were made from.
func madeFrom(c *eval.Comparison, m Meta) []fact {
	facts := []fact{
		{"corpus", m.Corpus}, {"program", m.Tool}, {"command", m.Command},
		{"rigs", strings.Join(c.Rigs, ", ")}, {"left out at a time", c.Leave},
		{"labels scored against", c.ScoreTruth}, {"labels trained on", c.TrainTruth},
		{"seed", fmt.Sprint(c.Seed)}, {"bootstrap resamples", fmt.Sprint(c.Resamples)},
	}
	var out []fact
	for _, f := range facts {
		if f.Value != "" {
			out = append(out, f)
		}
	}
	return out
}
