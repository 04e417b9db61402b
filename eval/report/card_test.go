package report_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/eval/report"
)

func TestCard(t *testing.T) {
	full := report.Card{
		Meta: report.Meta{Corpus: "0123", Tool: "strikerose test", Command: "strikerose check --card"},
		Rigs: []report.CardRig{{Key: "shed-r1", Sessions: 2, BagM: 1, BagKg: 35, SensorDepthM: 0.1, RateHz: 1000, Gyro: true}},
		Sessions: []report.CardSession{
			{Name: "mon", Rig: "shed-r1", Striker: "ann", DurationS: 80.7, RateHz: 1002.1, Strikes: 40, Found: true, Labelled: 39, LostSamples: 5, Restarts: 1},
			{Name: "tue", Rig: "shed-r1", DurationS: 60, RateHz: 1000},
		},
		Strikers: []string{"ann|b"}, Unnamed: 1,
		Labels:    []report.CardLabels{{Rig: "shed-r1", Source: "plan", Strikes: 39, Faces: []int{19, 20}, Bands: []string{"low", "high"}, InBand: []int{30, 9}}},
		Agreement: []report.CardAgreement{{What: "face", Labellers: "timed - plan", Measure: "kappa", Value: 0.9, Low: math.NaN(), High: math.NaN(), Strikes: 39}},
		Gaps:      []string{"Session tue: strikes were not looked for."},
		Splits:    []report.CardSplit{{Leave: "session", Why: "the usual one", Command: "strikerose compare --leave session"}},
	}
	for name, card := range map[string]report.Card{"card.md": full, "card_empty.md": {Meta: full.Meta}} {
		var b bytes.Buffer
		if err := card.Markdown(&b); err != nil {
			t.Fatal(err)
		}
		for _, part := range []string{"Motivation", "Composition", "Strikers and consent", "Collection", "Labelling", "Agreement", "Known gaps", "Recommended splits", "Licence"} {
			if !strings.Contains(b.String(), part) {
				t.Errorf("%s lacks %q", name, part)
			}
		}
		datasettest.Golden(t, name, b.Bytes())
	}
}
