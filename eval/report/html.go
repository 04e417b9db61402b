package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"strikerose/eval"
)

//go:embed page.gohtml
var pageTemplate string

//go:embed page.css
var pageStyle string

// page is what the template is filled with.
type page struct {
	choice    Choice
	Style     template.CSS
	Simulated string
	Question  string
	Answer    []string
	Split     string
	Next      string // the command that trains what the verdict names; "" where it names none or several
	Level     string
	Drawn     string
	Contents  []htmlLink
	Tables    []htmlTable
	Rigs      []htmlRig
	Depends   []htmlDepends
	Breaks    []htmlBreaks
	Certainty []htmlCertainty
	Surer     []htmlCertainty // folded
	Aimed     string          // what a plan's labels make of the certainty; "" without
	Learning  []htmlLearning
	Learn     string // the command that draws learning, where it was not asked for
	Verdicts  []string
	Costs     []htmlCosts
	RigToRig  htmlRigToRig
	Matrix    htmlFigures
	RigRig    string // the flag that leaves rigs out, where they are not
	Worst     []htmlWorst
	WorstOf   string
	Reasons   string
	Effects   []htmlRow
	Found     string
	Detection []htmlDetection
	Data      []fact
	Sessions  []eval.Counts
	Made      []fact
	Notes     []string
}

type htmlLink struct{ ID, Title string }

type fact struct{ Name, Value string }

// htmlTable is the table of one group of strikes.
type htmlTable struct {
	Title, Counts string
	Rows          []htmlRow
	Bounds        []htmlRow // the least mean errors possible
}

// htmlCosts is what the detectors cost on one group, drawn and as a table.
type htmlCosts struct {
	Title, Beaten string
	Figures       htmlFigures
	Rows          []htmlRow
}

type htmlFigures []template.HTML

type htmlRow struct {
	Name, Kind string
	Cells      []htmlCell
}

// htmlCell is a number with its interval, mark and distance to the bound.
type htmlCell struct {
	Mark, Value, Interval, Distance string
	Words                           bool // words rather than a number
}

// htmlBreaks are the tables by band and kind of one rig.
type htmlBreaks struct {
	Title  string
	Tables []htmlBreak
}

type htmlBreak struct {
	Title  string
	Heads  []string
	Counts []int
	Rows   []htmlRow
}

// htmlDepends is what the errors of one rig depend on, drawn and as a table.
type htmlDepends struct {
	htmlSensitivity
	Figures htmlFigures
}

// htmlRig is one rig with its best detectors; over several rigs there is only
// the table, since faces and heights need not be the same.
type htmlRig struct {
	Title, Landed string
	Map           htmlFigures
	Cards         []htmlCard
	More          []htmlCard // folded
}

// htmlCard is what is drawn of one detector on one rig.
type htmlCard struct {
	Name, Kind, Doc, Bearing, Height string
	Rose, Around, Beside, Heights    htmlFigures
	Mixed                            []confusion
}

type htmlDetection struct{ Title, Value, Interval string }

// HTML writes one self-contained page: no scripts, nothing to fetch, fit for
// light and dark screens, for a phone and for paper.
func HTML(w io.Writer, c *eval.Comparison, m Meta) error {
	p := page{
		choice: m.Draw, Simulated: simulatedWords(c, m),
		Style: template.CSS(pageStyle), Question: question(c), Answer: unbroken(inThree(c)), Split: splitSentence(c), Level: fmt.Sprintf("%.3g", 100*c.Level),
		Next: trainCommand(c), Verdicts: unbroken(verdicts(c)), Reasons: worstReasonWords(c), Effects: effectRows(c), Data: dataFacts(c, m), Sessions: c.Sessions, Made: madeFrom(c, m), Notes: unbroken(notes(c)),
	}
	switch {
	case len(m.Draw) > 0 && !slices.Contains(m.Draw, DrawAll):
		p.Drawn = "Drawn are the detectors chosen; the tables hold all."
	case len(c.Detectors) <= drawnDetectors:
	case len(m.Draw) > 0:
		p.Drawn = fmt.Sprintf("Of each rig the %d detectors that err least come first, bearing and height counted alike; all others are folded below them. What is folded is not printed.", drawnDetectors)
	default:
		p.Drawn = fmt.Sprintf("Of each rig the %d detectors that err least are drawn, bearing and height counted alike; the tables hold all. To draw others, name them with --draw, or all with --draw all.", drawnDetectors)
	}
	for _, fill := range []func(*eval.Comparison) error{p.fillTables, p.fillRigs, p.fillDepends, p.fillCertainty, p.fillLearning, p.fillCosts, p.fillRigToRig, p.fillWorst} {
		if err := fill(c); err != nil {
			return err
		}
	}
	if d := c.Detection; d != nil {
		p.Found = fmt.Sprintf("%d of %d strikes in %s with complete timed truth were found, and %d finds were no strike.", d.Matched, d.Truth, plural(d.Sessions, "session"), d.Found-d.Matched)
		for _, r := range detectionRows(d) {
			p.Detection = append(p.Detection, htmlDetection{r.Title + ", " + r.Unit, number(r.Figure.Value, r.Scale, r.Digits), interval(r.Figure, r.Scale, r.Digits)})
		}
	}
	p.Contents = p.contents()
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

// contents lists the parts that the page has.
func (p *page) contents() []htmlLink {
	var out []htmlLink
	for _, part := range []struct {
		id, title string
		there     bool
	}{
		{"table", "the detectors", true},
		{"around", "errors around the bag", len(p.Rigs) > 0},
		{"where", "errors by where it landed", len(p.Rigs) > 0},
		{"mixed", "faces and bands mixed up", len(p.Rigs) > 0},
		{"heights", "heights", len(p.Rigs) > 0},
		{"depends", "what the error depends on", true},
		{"certainty", "certainty", len(p.Certainty) > 0},
		{"learning", "how many strikes", true},
		{"cost", "cost", len(p.Costs) > 0},
		{"rigs", "from rig to rig", true},
		{"worst", "the worst strikes", true},
		{"finder", "finding", p.Found != ""},
		{"data", "the data", true},
		{"made", "how it was made", true},
	} {
		if part.there {
			out = append(out, htmlLink{part.id, part.title})
		}
	}
	return out
}

func (p *page) fillTables(c *eval.Comparison) error {
	for _, g := range c.Groups {
		if g.Band == "" && g.Kind == "" {
			p.Tables = append(p.Tables, buildTable(c, g))
		}
	}
	return nil
}

func (p *page) fillRigs(c *eval.Comparison) error {
	for _, g := range wholeRigs(c) {
		s := sectionOf(c, g)
		if s.faces == 0 {
			continue
		}
		rig := htmlRig{Title: groupTitle(g), Landed: s.landed()}
		var err error
		if rig.Map, err = drawn(bagMapFigure(s)); err != nil {
			return err
		}
		open, folded := p.choice.parts(c, g)
		for _, part := range []struct {
			into      *[]htmlCard
			detectors []int
		}{{&rig.Cards, open}, {&rig.More, folded}} {
			for _, k := range part.detectors {
				card, err := buildCard(s, k, rowOf(g, c.Detectors[k].Name))
				if err != nil {
					return err
				}
				*part.into = append(*part.into, card)
			}
		}
		p.Rigs = append(p.Rigs, rig)
	}
	return nil
}

func (p *page) fillDepends(c *eval.Comparison) error {
	tables := buildSensitivity(c)
	for k, s := range c.Sensitivity {
		figures, err := drawn(levelFigures(s)...)
		if err != nil {
			return err
		}
		p.Depends = append(p.Depends, htmlDepends{tables[k], figures})
	}
	for _, g := range wholeRigs(c) {
		p.Breaks = append(p.Breaks, htmlBreaks{groupTitle(g), []htmlBreak{
			breakTable(c, g.Rig, eval.BearingMAE, "Mean bearing error, degrees", 1),
			breakTable(c, g.Rig, eval.HeightMAE, "Mean height error, cm", 100),
			breakTable(c, g.Rig, eval.Faces95, "Equal faces told apart at 95 %", 1),
			breakTable(c, g.Rig, eval.Bands95, "Equal bands told apart at 95 %", 1),
		}})
	}
	return nil
}

func (p *page) fillCertainty(c *eval.Comparison) (err error) {
	open, folded := p.choice.parts(c, c.Groups[0])
	if p.Certainty, err = buildCertainty(c, open); err != nil {
		return err
	}
	if c.Floor.PlanShare > 0 {
		p.Aimed = "Of labels from a plan fewer than stated lie in an interval that is right: it is about where the glove landed, and the plan says where it was aimed."
	}
	p.Surer, err = buildCertainty(c, folded)
	return err
}

func (p *page) fillLearning(c *eval.Comparison) (err error) {
	p.Learning, err = buildLearning(c)
	if len(c.Learning) == 0 {
		p.Learn = "strikerose compare --learning"
	}
	return err
}

func (p *page) fillCosts(c *eval.Comparison) error {
	for _, g := range wholeRigs(c) {
		rows, beaten := costRows(g)
		if len(rows) == 0 {
			continue
		}
		figures, err := drawn(costFigures(g)...)
		if err != nil {
			return err
		}
		p.Costs = append(p.Costs, htmlCosts{groupTitle(g), beaten, figures, rows})
	}
	return nil
}

func (p *page) fillRigToRig(c *eval.Comparison) (err error) {
	p.RigToRig = buildRigToRig(c)
	p.Matrix, err = drawn(rigMatrixFigures(c)...)
	if len(c.RigToRig) == 0 {
		p.RigRig = "strikerose compare --rig-to-rig"
	}
	return err
}

func (p *page) fillWorst(c *eval.Comparison) (err error) {
	if len(c.Worst) > 0 {
		p.WorstOf = c.Worst[0].Detector
	}
	p.Worst, err = buildWorst(c)
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

func buildTable(c *eval.Comparison, g eval.Group) htmlTable {
	out := htmlTable{Title: groupTitle(g), Counts: countsOf(g)}
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
	out.Bounds = boundRows(g)
	return out
}

// boundRows are the least mean errors possible below the errors that they bound.
func boundRows(g eval.Group) []htmlRow {
	if g.Bound == nil {
		return nil
	}
	sensor, model := htmlRow{Name: "bound", Kind: "sensor alone"}, htmlRow{Name: "bound", Kind: "model noise"}
	for _, col := range tableColumns() {
		s, m := g.Least(col.measure)
		sensor.Cells = append(sensor.Cells, htmlCell{Value: leastNumber(s, col.scale)})
		model.Cells = append(model.Cells, htmlCell{Value: leastNumber(m, col.scale)})
	}
	return []htmlRow{model, sensor}
}

func buildCard(s section, detector int, row eval.Row) (htmlCard, error) {
	d := s.c.Detectors[detector]
	card := htmlCard{Name: d.Name, Kind: d.Kind, Doc: d.Doc, Bearing: bearingWords(row), Mixed: s.mixed(detector)}
	if heights := row.Figure(eval.HeightMAE); heights.Known() {
		card.Height = fmt.Sprintf("%s cm off on average, bias %s cm", number(heights.Value, 100, 1), number(row.Figure("height_bias_m").Value, 100, 1))
	}
	var heights []Figure
	if f, ok := heightFigure(s, detector, row); ok {
		heights = append(heights, f)
	}
	for _, part := range []struct {
		into *htmlFigures
		from []Figure
	}{
		{&card.Rose, []Figure{roseFigure(s, detector, row)}},
		{&card.Around, aroundFigures(s, detector)},
		{&card.Beside, sideFigures(s, detector, row)},
		{&card.Heights, heights},
	} {
		svgs, err := drawn(part.from...)
		if err != nil {
			return card, err
		}
		*part.into = svgs
	}
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

// dataFacts say what was compared and what its labels are worth.
func dataFacts(c *eval.Comparison, m Meta) []fact {
	var found, scored, trained int
	strikers := map[string]bool{}
	for _, s := range c.Sessions {
		found, scored, trained = found+s.Found, scored+s.Scored, trained+s.Trained
		if s.Striker != "" {
			strikers[s.Striker] = true
		}
	}
	var sources []string
	count := map[string]int{}
	for _, s := range c.Strikes {
		if count[s.Truth.Source] == 0 {
			sources = append(sources, s.Truth.Source)
		}
		count[s.Truth.Source]++
	}
	slices.Sort(sources)
	for i, source := range sources {
		sources[i] = fmt.Sprintf("%d %s", count[source], source)
	}
	floor := "none known"
	if c.Floor.BearingMAEDeg > 0 || c.Floor.HeightMAEM > 0 {
		floor = fmt.Sprintf("%s° and %s cm", number(c.Floor.BearingMAEDeg, 1, 1), number(c.Floor.HeightMAEM, 100, 1))
	}
	sessions := fmt.Sprint(len(c.Sessions))
	if s := simulatedWords(c, m); s != "" {
		sessions += ", " + s
	}
	return []fact{
		{"rigs", strings.Join(c.Rigs, ", ")}, {"sessions", sessions}, {"strikers named", fmt.Sprint(len(strikers))},
		{"strikes found", fmt.Sprint(found)}, {"with a label to score against", fmt.Sprint(scored)}, {"with a label to train on", fmt.Sprint(trained)},
		{"labels scored against, by source", strings.Join(sources, ", ")}, {"part of the mean errors that is the labels' own", floor}, {"what the truth is worth", c.Floor.Note},
	}
}

// simulatedWords says what of the data is simulated; "" for nothing known.
func simulatedWords(c *eval.Comparison, m Meta) string {
	switch {
	case m.Simulated == 0:
		return ""
	case m.Simulated == len(c.Sessions):
		return "all simulated: nothing of them is measured"
	}
	return fmt.Sprintf("%d of them simulated: nothing of those is measured", m.Simulated)
}

// madeFrom lists what the numbers were made from.
func madeFrom(c *eval.Comparison, m Meta) []fact {
	facts := []fact{
		{"corpus", m.Corpus}, {"contents (SHA-256)", m.Contents}, {"program", m.Tool}, {"definitions", m.Definitions}, {"command", m.Command},
		{"left out at a time", c.Leave}, {"labels scored against", c.ScoreTruth}, {"labels trained on", c.TrainTruth},
		{"seed", fmt.Sprint(c.Seed)}, {"bootstrap resamples", fmt.Sprint(c.Resamples)}, {"level of intervals and tests", number(c.Level, 100, 0) + " %"},
	}
	var out []fact
	for _, f := range facts {
		if f.Value != "" {
			out = append(out, f)
		}
	}
	return out
}
