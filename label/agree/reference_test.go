package agree

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
)

// reference is testdata/reference/agreement.json, section by section.
func reference(t *testing.T) map[string]json.RawMessage {
	var out map[string]json.RawMessage
	datasettest.Reference(t, "agreement.json", &out)
	return out
}

func decode(t *testing.T, data json.RawMessage, into any) {
	t.Helper()
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatal(err)
	}
}

// numbers turns ratings with gaps into rows with NaN.
func numbers(rows [][]*float64) [][]float64 {
	out := make([][]float64, len(rows))
	for k, row := range rows {
		for _, x := range row {
			if x == nil {
				out[k] = append(out[k], math.NaN())
			} else {
				out[k] = append(out[k], *x)
			}
		}
	}
	return out
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !datasettest.Near(got, want, tol) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// Krippendorff's matrix of four observers and twelve units with gaps, for
// which the paper prints 0.743, 0.815 and 0.849, and his two of two observers.
func TestAlphaReference(t *testing.T) {
	all := reference(t)
	type printed struct{ Alpha, Do, De float64 }
	var matrix struct {
		Data                       [][]*float64 `json:"data_rows_coders"`
		Nominal, Ordinal, Interval printed
		Circular                   printed `json:"circular_U5"`
	}
	decode(t, all["krippendorff_4x12"], &matrix)
	ratings := numbers(matrix.Data)
	fifths := make([][]float64, len(ratings)) // a circle of five steps
	for k, row := range ratings {
		for _, x := range row {
			fifths[k] = append(fifths[k], x*360/5)
		}
	}
	for _, c := range []struct {
		name    string
		ratings [][]float64
		scale   Scale
		want    printed
	}{
		{"nominal", ratings, Nominal, matrix.Nominal},
		{"ordinal", ratings, Ordinal, matrix.Ordinal},
		{"interval", ratings, Interval, matrix.Interval},
		{"circular", fifths, Circular, matrix.Circular},
	} {
		got := NewAlpha(c.ratings, c.scale)
		near(t, c.name+" alpha", got.Value, c.want.Alpha, 1e-9)
		near(t, c.name+" observed", got.Observed, c.want.Do, 1e-9)
		near(t, c.name+" expected", got.Expected, c.want.De, 1e-9)
		if got.Values != 40 {
			t.Errorf("%s: %d values are compared, want 40", c.name, got.Values)
		}
	}
	for scale, want := range map[Scale]float64{Nominal: 0.743, Ordinal: 0.815, Interval: 0.849} {
		near(t, "printed alpha", NewAlpha(ratings, scale).Value, want, 5e-4)
	}

	var binary struct {
		Data  [][]float64
		Alpha float64 `json:"alpha_nominal"`
	}
	decode(t, all["krippendorff_binary_2x10"], &binary)
	near(t, "binary alpha", NewAlpha(binary.Data, Nominal).Value, binary.Alpha, 1e-9)

	var letters struct {
		Data  [][]string
		Alpha float64 `json:"alpha_nominal"`
	}
	decode(t, all["krippendorff_nominal_2x12"], &letters)
	coded := make([][]float64, 2)
	for k, row := range letters.Data {
		for _, letter := range row {
			coded[k] = append(coded[k], float64(strings.Index("abcde", letter)))
		}
	}
	near(t, "alpha of letters", NewAlpha(coded, Nominal).Value, letters.Alpha, 1e-9)

	var bearings struct {
		Data   [][]*float64 `json:"data_deg"`
		Alpha  float64      `json:"alpha_circular"`
		Linear float64      `json:"alpha_if_wrongly_linear_interval"`
		Do, De float64
	}
	decode(t, all["circular_alpha_bearings"], &bearings)
	got := NewAlpha(numbers(bearings.Data), Circular)
	near(t, "alpha of bearings", got.Value, bearings.Alpha, 1e-9)
	near(t, "observed of bearings", got.Observed, bearings.Do, 1e-9)
	near(t, "expected of bearings", got.Expected, bearings.De, 1e-9)
	near(t, "alpha of bearings on a line", NewAlpha(numbers(bearings.Data), Interval).Value, bearings.Linear, 1e-9)
}

func TestKappaReference(t *testing.T) {
	n := 0
	for name, data := range reference(t) {
		if !strings.HasPrefix(name, "kappa_") || name == "kappa_weighted" {
			continue
		}
		n++
		var want struct {
			Table     [][]float64
			Kappa     float64
			Linear    float64 `json:"kappa_linear"`
			Quadratic float64 `json:"kappa_quadratic"`
		}
		decode(t, data, &want)
		near(t, name, Kappa(want.Table, Plain), want.Kappa, 1e-9)
		near(t, name+" linear", Kappa(want.Table, Linear), want.Linear, 1e-9)
		near(t, name+" quadratic", Kappa(want.Table, Quadratic), want.Quadratic, 1e-9)
	}
	if n < 6 {
		t.Errorf("%d tables of two raters, want 6", n)
	}
	var given []struct {
		Source              string
		Table, Disagreement [][]float64
		Kappa               float64
	}
	decode(t, reference(t)["kappa_weighted"], &given)
	if len(given) != 2 {
		t.Errorf("%d tables with weights, want 2", len(given))
	}
	for _, g := range given {
		near(t, g.Source, Kappa(g.Table, func(i, j int) float64 { return g.Disagreement[i][j] }), g.Kappa, 1e-8)
	}
}

func TestFleissReference(t *testing.T) {
	for name, column := range map[string]string{"fleiss1971": "counts_30x5", "fleiss_10x5_14raters": "counts"} {
		var section map[string]json.RawMessage
		decode(t, reference(t)[name], &section)
		var counts [][]float64
		var want float64
		decode(t, section[column], &counts)
		decode(t, section["kappa"], &want)
		near(t, name, FleissKappa(counts), want, 1e-9)
	}
}

func TestLimitsReference(t *testing.T) {
	var small struct {
		X, Y      []float64
		Bias, SD  float64
		Limits    [2]float64 `json:"loa_1.96"`
		CIBias    [2]float64 `json:"ci_bias"`
		SELimitOf float64    `json:"se_loa_exact_form"`
	}
	decode(t, reference(t)["bland_altman"], &small)
	got := NewLimits(small.X, small.Y)
	const t9 = 2.2621571628 // 97.5 % quantile of Student's t, 9 degrees of freedom (R 4.2.2 qt)
	near(t, "bias", got.Bias, small.Bias, 1e-9)
	near(t, "sd", got.SD, small.SD, 1e-9)
	near(t, "lower limit", got.Low, small.Limits[0], 1e-9)
	near(t, "upper limit", got.High, small.Limits[1], 1e-9)
	near(t, "bias from", got.Bias-got.BiasHalf, small.CIBias[0], 1e-8)
	near(t, "bias to", got.Bias+got.BiasHalf, small.CIBias[1], 1e-8)
	near(t, "limit's half-width", got.LimitHalf, t9*small.SELimitOf, 1e-8)

	var flow struct {
		Wright, Mini []float64
		Bias, SD     float64
	}
	decode(t, reference(t)["bland_altman_pefr1986"], &flow)
	got = NewLimits(flow.Wright, flow.Mini)
	near(t, "bias of 1986", got.Bias, flow.Bias, 1e-9)
	near(t, "sd of 1986", got.SD, flow.SD, 1e-9)
	near(t, "lower limit of 1986", got.Low, -78.097302, 1e-7)
	near(t, "upper limit of 1986", got.High, 73.862007, 1e-7)
}
