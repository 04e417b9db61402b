package main

import (
	"context"
	"encoding/csv"
	"io"
	"math"
	"slices"
	"strconv"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/npy"
	"strikerose/features"
	"strikerose/label"
)

type featuresFlags struct {
	selection
	out             string
	labels, float32 bool
}

// featureEndings are those of the table that features writes.
var featureEndings = endings{{".csv", csvFormat}, {".npy", matrixFormat}}

// matrixFormat is NumPy's.
const matrixFormat = "npy"

// matrix tells whether the output is NumPy's.
func (f *featuresFlags) matrix() bool { return featureEndings.of(f.out) == matrixFormat }

// featureRow is one strike of the table that features -o writes.
type featureRow struct {
	session string
	number  int
	onsetNs int64
	values  []float64 // of features.Columns
	claim   *label.Claim
	place   label.Place // what the claim says; no face and no band where it says none, or there is none
}

// featureRows lays the standing labels beside a session's features.
func featureRows(ctx context.Context, a *app, c *corpus.Corpus, s dataset.Session, t corpus.FeatureTable, labels bool) ([]featureRow, error) {
	rows := make([]featureRow, len(t.Rows))
	strikes := make([]dataset.Strike, len(t.Rows))
	for i := range rows {
		rows[i] = featureRow{session: s.Name, number: t.Number[i], onsetNs: t.OnsetNs[i], values: t.Rows[i],
			place: label.Place{BearingDeg: math.NaN(), HeightM: math.NaN()}}
		strikes[i] = dataset.Strike{Number: t.Number[i], OnsetNs: t.OnsetNs[i]}
	}
	if !labels {
		return rows, nil
	}
	r, err := c.Rig(s.Rig)
	if err != nil {
		return nil, err
	}
	claims, err := a.journalClaims(ctx, c, s.Name)
	if err != nil {
		return nil, err
	}
	found, _ := label.Resolve(claims, strikes, label.Best, label.MatchNs())
	for _, l := range found {
		if l.Claim != nil && !l.NotStrike && !l.Claim.Complete {
			rows[l.Strike].claim, rows[l.Strike].place = l.Claim, l.Claim.PlaceOn(r)
		}
	}
	return rows, nil
}

// words are the columns of text that --labels adds.
func (r featureRow) words() []string {
	if r.claim == nil {
		return []string{"", "", ""}
	}
	return []string{r.claim.Source, r.place.Band, r.claim.Kind}
}

// numbers are all columns of numbers, in the order of featureColumns.
func (r featureRow) numbers(labels bool) []float64 {
	out := slices.Concat([]float64{float64(r.number), float64(r.onsetNs) / 1e9}, r.values)
	if labels {
		face := math.NaN()
		if r.place.Face > 0 {
			face = float64(r.place.Face)
		}
		out = append(out, face, r.place.BearingDeg, r.place.HeightM)
	}
	return out
}

// featureColumns describes the numbers of a row: name, unit and meaning.
func featureColumns(labels bool) [][]string {
	out := [][]string{
		{"number", "", "of the strike in the session, from 1"},
		{"onset_s", "s", "first instant of contact, from the session's first sample"},
	}
	for _, c := range features.Columns() {
		out = append(out, []string{c.Name, c.Unit, c.Doc})
	}
	if labels {
		out = append(out,
			[]string{"label_face", "", "face that the preferred label says"},
			[]string{"label_bearing_deg", "deg", "bearing that the preferred label stands for"},
			[]string{"label_height_m", "m", "height that the preferred label stands for"})
	}
	return out
}

var labelWords = [...]string{"label_source", "label_band", "label_kind"}

// writeFeatures writes the table in the format that the file's name tells.
func (a *app) writeFeatures(f featuresFlags, rows []featureRow) error {
	if !f.matrix() {
		return a.writeOutput(f.out, func(w io.Writer) error { return writeFeatureCSV(w, rows, f.labels) })
	}
	columns := featureColumns(f.labels)
	if err := a.writeOutput(f.out, func(w io.Writer) error {
		if !f.float32 {
			numbers := make([][]float64, len(rows))
			for i, r := range rows {
				numbers[i] = r.numbers(f.labels)
			}
			return npy.Write(w, len(columns), numbers)
		}
		numbers := make([][]float32, len(rows))
		for i, r := range rows {
			for _, x := range r.numbers(f.labels) {
				numbers[i] = append(numbers[i], float32(x))
			}
		}
		return npy.Write(w, len(columns), numbers)
	}); err != nil {
		return err
	}
	if err := a.writeOutput(f.out+".columns.csv", func(w io.Writer) error {
		return writeCSV(w, []string{"column", "unit", "meaning"}, columns)
	}); err != nil {
		return err
	}
	head := []string{"session", "number", "onset_s"}
	if f.labels {
		head = append(head, labelWords[:]...)
	}
	cells := make([][]string, len(rows))
	for i, r := range rows {
		cells[i] = []string{r.session, strconv.Itoa(r.number), secondsText(r.onsetNs)}
		if f.labels {
			cells[i] = append(cells[i], r.words()...)
		}
	}
	return a.writeOutput(f.out+".rows.csv", func(w io.Writer) error { return writeCSV(w, head, cells) })
}

func writeFeatureCSV(w io.Writer, rows []featureRow, labels bool) error {
	head := []string{"session"}
	for _, c := range featureColumns(labels) {
		head = append(head, c[0])
	}
	if labels {
		head = append(head, labelWords[:]...)
	}
	cells := make([][]string, len(rows))
	for i, r := range rows {
		cells[i] = []string{r.session}
		for _, x := range r.numbers(labels) {
			cells[i] = append(cells[i], everyDigit(x))
		}
		if labels {
			cells[i] = append(cells[i], r.words()...)
		}
	}
	return writeCSV(w, head, cells)
}

// everyDigit writes a number so that reading it gives the same number, and
// nothing for one that is not known.
func everyDigit(x float64) string {
	if math.IsNaN(x) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

func writeCSV(w io.Writer, head []string, rows [][]string) error {
	out := csv.NewWriter(w)
	out.Write(head)
	out.WriteAll(rows) // flushes
	return out.Error()
}
