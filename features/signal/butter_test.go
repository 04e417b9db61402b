package signal_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/features/signal"
)

// filterReference mirrors testdata/reference/sos.json (scipy 1.10.1).
type filterReference struct {
	Filters map[string]struct {
		SOS     [][6]float64
		Impulse []float64 `json:"impulse_response_12"`
		Step    []float64 `json:"step_response_12"`
		Hz      []float64 `json:"response_freq_hz"`
		Gain    []float64
		Phase   []float64 `json:"phase_rad"`
	}
	ForwardBackward struct {
		X       []float64
		Key     string    `json:"sos_key"`
		Both    []float64 `json:"y_default_odd_padding"`
		Forward []float64 `json:"y_forward_only"`
	} `json:"forward_backward"`
}

const rateHz = 1000 // of all reference filters

func reference(t *testing.T) filterReference {
	t.Helper()
	var ref filterReference
	datasettest.Reference(t, "sos.json", &ref)
	if len(ref.Filters) != 9 || len(ref.ForwardBackward.X) == 0 {
		t.Fatalf("sos.json holds %d filters, want 9 and the forward-backward example", len(ref.Filters))
	}
	return ref
}

// design makes the filter that a reference is named after, as in
// lowpass_n2_fc50_fs1000 and bandpass_n4_5_50_fs1000.
func design(t *testing.T, name string) []signal.Section {
	t.Helper()
	var kind string
	var order int
	var first, second float64
	words := strings.NewReplacer("_n", " ", "_fc", " ", "_fs", " ", "_", " ").Replace(name)
	if _, err := fmt.Sscan(words, &kind, &order, &first, &second); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var s []signal.Section
	var err error
	switch kind {
	case "lowpass":
		s, err = signal.LowPass(order, first, rateHz)
	case "highpass":
		s, err = signal.HighPass(order, first, rateHz)
	case "bandpass":
		s, err = signal.BandPass(order, first, second, rateHz)
	default:
		t.Fatalf("no filter of kind %q", kind)
	}
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return s
}

func sections(rows [][6]float64) []signal.Section {
	var out []signal.Section
	for _, r := range rows {
		out = append(out, signal.Section{B0: r[0], B1: r[1], B2: r[2], A1: r[4], A2: r[5]})
	}
	return out
}

func run(s []signal.Section, x []float64) []float64 {
	c := signal.NewCascade(s)
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = c.Step(v)
	}
	return y
}

func differ(t *testing.T, what string, got, want []float64, tol float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d values, want %d", what, len(got), len(want))
	}
	for i := range want {
		if !datasettest.Near(got[i], want[i], tol) {
			t.Errorf("%s[%d] = %.12g, want %.12g", what, i, got[i], want[i])
		}
	}
}

func TestButterworthAgainstReference(t *testing.T) {
	for name, ref := range reference(t).Filters {
		s := design(t, name)
		if len(s) != len(ref.SOS) {
			t.Errorf("%s: %d sections, want %d", name, len(s), len(ref.SOS))
		}
		// Gain is spread over the sections in another way; the filter as a
		// whole is the same.
		for hz := 0.5; hz < rateHz/2; hz += 3.7 {
			got, want := signal.Response(s, hz, rateHz), signal.Response(sections(ref.SOS), hz, rateHz)
			if cmplx.Abs(got-want) > 1e-9 {
				t.Errorf("%s at %g Hz: response %v, want %v", name, hz, got, want)
			}
		}
		impulse := make([]float64, len(ref.Impulse))
		step := make([]float64, len(ref.Step))
		for i := range step {
			impulse[0], step[i] = 1, 1
		}
		differ(t, name+" impulse", run(s, impulse), ref.Impulse, 1e-9)
		differ(t, name+" step", run(s, step), ref.Step, 1e-9)
		for i, hz := range ref.Hz {
			got := signal.Response(s, hz, rateHz)
			if !datasettest.Near(cmplx.Abs(got), ref.Gain[i], 1e-9) || cmplx.Abs(cmplx.Rect(1, cmplx.Phase(got)-ref.Phase[i])-1) > 1e-6 {
				t.Errorf("%s at %g Hz: gain %g, phase %g, want %g, %g", name, hz, cmplx.Abs(got), cmplx.Phase(got), ref.Gain[i], ref.Phase[i])
			}
		}
	}
}

func TestButterworthShape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		order := rapid.IntRange(1, 8).Draw(t, "order")
		rate := rapid.Float64Range(50, 5000).Draw(t, "rate")
		low := rapid.Float64Range(0.01, 0.4).Draw(t, "low") * rate
		high := low + rapid.Float64Range(0.02, 0.09).Draw(t, "high")*rate
		lp, err1 := signal.LowPass(order, low, rate)
		hp, err2 := signal.HighPass(order, low, rate)
		bp, err3 := signal.BandPass(order, low, high, rate)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatal(err1, err2, err3)
		}
		gain := func(s []signal.Section, hz float64) float64 { return cmplx.Abs(signal.Response(s, hz, rate)) }
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"low-pass at 0", gain(lp, 0), 1},
			{"low-pass at its corner", gain(lp, low), math.Sqrt2 / 2},
			{"high-pass at its corner", gain(hp, low), math.Sqrt2 / 2},
			{"high-pass at the end", gain(hp, rate/2), 1},
			{"band-pass at its lower corner", gain(bp, low), math.Sqrt2 / 2},
			{"band-pass at its upper corner", gain(bp, high), math.Sqrt2 / 2},
			{"low-pass and high-pass in power", math.Pow(gain(lp, high), 2) + math.Pow(gain(hp, high), 2), 1},
		} {
			if math.Abs(c.got-c.want) > 1e-6 {
				t.Fatalf("order %d: gain of %s is %g, want %g", order, c.what, c.got, c.want)
			}
		}
		for _, s := range append(append(lp, hp...), bp...) {
			if !(math.Abs(s.A2) < 1 && math.Abs(s.A1) < 1+s.A2) {
				t.Fatalf("order %d: section %+v is not stable", order, s)
			}
		}
	})
}

func TestButterworthRefuses(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		order     int
		low, high float64
		rate      float64
		want      string
	}{
		{0, 1, 2, 100, "order"}, {99, 1, 2, 100, "order"},
		{2, 0, 2, 100, "corner"}, {2, 50, 60, 100, "corner"}, {2, nan, 2, 100, "corner"}, {2, 1, 2, nan, "corner"},
	} {
		_, e1 := signal.LowPass(c.order, c.low, c.rate)
		_, e2 := signal.HighPass(c.order, c.low, c.rate)
		_, e3 := signal.BandPass(c.order, c.low, c.high, c.rate)
		for i, err := range []error{e1, e2, e3} {
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("filter %d of %+v: error %v, want one about %s", i, c, err, c.want)
			}
		}
	}
	if _, err := signal.BandPass(2, 20, 10, 100); err == nil {
		t.Error("BandPass from 20 to 10 Hz is accepted")
	}
}
