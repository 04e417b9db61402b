package signal_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/features/signal"
)

func TestPeaksAgainstReference(t *testing.T) {
	type properties struct {
		Prominences, Widths, Heights []float64
		WidthHeights                 []float64 `json:"width_heights"`
		LeftBases                    []int     `json:"left_bases"`
		RightBases                   []int     `json:"right_bases"`
		LeftCross                    []float64 `json:"left_ips"`
		RightCross                   []float64 `json:"right_ips"`
		LeftEdges                    []int     `json:"left_edges"`
		RightEdges                   []int     `json:"right_edges"`
	}
	var ref struct {
		Series []float64
		Calls  map[string]struct {
			Peaks []int
			Props properties
		}
		Prominences properties `json:"all_prominences"`
		Widths      properties `json:"all_widths_half"`
	}
	datasettest.Reference(t, "find_peaks.json", &ref)

	two, three := 2.0, 3.0
	rules := map[string]signal.PeakRules{
		"all":               {},
		"height3":           {MinHeight: &three},
		"prominence2":       {MinProminence: 2},
		"distance3":         {MinDistance: 3},
		"distance4_height2": {MinDistance: 4, MinHeight: &two},
		"width1_prom1":      {MinWidth: 1, MinProminence: 1},
		"plateau":           {MinPlateau: 2},
		"threshold2":        {MinThreshold: 2},
		"wlen5":             {Window: 5},
	}
	if len(ref.Calls) != len(rules) {
		t.Fatalf("find_peaks.json holds %d calls, want %d", len(ref.Calls), len(rules))
	}
	compared := 0
	check := func(t *testing.T, peaks []signal.Peak, p properties) {
		t.Helper()
		ints := func(what string, want []int, get func(signal.Peak) int) {
			compared += len(want)
			for i, w := range want {
				if got := get(peaks[i]); got != w {
					t.Errorf("peak %d: %s = %d, want %d", i, what, got, w)
				}
			}
		}
		floats := func(what string, want []float64, get func(signal.Peak) float64) {
			compared += len(want)
			for i, w := range want {
				if got := get(peaks[i]); !datasettest.Near(got, w, 1e-9) {
					t.Errorf("peak %d: %s = %.12g, want %.12g", i, what, got, w)
				}
			}
		}
		ints("left base", p.LeftBases, func(k signal.Peak) int { return k.LeftBase })
		ints("right base", p.RightBases, func(k signal.Peak) int { return k.RightBase })
		ints("left edge", p.LeftEdges, func(k signal.Peak) int { return k.Left })
		ints("right edge", p.RightEdges, func(k signal.Peak) int { return k.Right })
		floats("prominence", p.Prominences, func(k signal.Peak) float64 { return k.Prominence })
		floats("width", p.Widths, func(k signal.Peak) float64 { return k.Width })
		floats("width height", slices.Concat(p.WidthHeights, p.Heights), func(k signal.Peak) float64 { return k.WidthHeight })
		floats("left crossing", p.LeftCross, func(k signal.Peak) float64 { return k.LeftCross })
		floats("right crossing", p.RightCross, func(k signal.Peak) float64 { return k.RightCross })
	}
	for name, call := range ref.Calls {
		t.Run(name, func(t *testing.T) {
			rule, ok := rules[name]
			if !ok {
				t.Fatal("no rules for this call")
			}
			peaks := signal.Peaks(ref.Series, rule)
			var at []int
			for _, p := range peaks {
				at = append(at, p.Index)
				if p.Height != ref.Series[p.Index] {
					t.Errorf("peak at %d: height %g, want %g", p.Index, p.Height, ref.Series[p.Index])
				}
			}
			if !slices.Equal(at, call.Peaks) {
				t.Fatalf("peaks at %v, want %v", at, call.Peaks)
			}
			check(t, peaks, call.Props)
			if name == "all" {
				check(t, peaks, ref.Prominences)
				check(t, peaks, ref.Widths)
			}
		})
	}
	if compared < 150 {
		t.Errorf("only %d properties were compared", compared)
	}
}

func TestPeaksOfNothing(t *testing.T) {
	nan := math.NaN()
	for _, x := range [][]float64{nil, {1}, {1, 2}, {2, 1}, {1, 1, 1}, {1, 2, 2}, {2, 2, 1}, {nan, 5, nan}, {0, 5, nan}} {
		if got := signal.Peaks(x, signal.PeakRules{}); len(got) != 0 {
			t.Errorf("Peaks(%v) = %+v, want none", x, got)
		}
	}
}

func TestPeaksHoldTheirRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.SliceOfN(rapid.IntRange(0, 6), 3, 60).Draw(t, "x")
		x, up := make([]float64, len(whole)), make([]float64, len(whole))
		for i, v := range whole {
			x[i], up[i] = float64(v), 2*float64(v)+7
		}
		rules := signal.PeakRules{
			MinDistance:   rapid.IntRange(0, 5).Draw(t, "distance"),
			MinProminence: float64(rapid.IntRange(0, 4).Draw(t, "prominence")),
			Window:        rapid.IntRange(0, 9).Draw(t, "window"),
		}
		peaks := signal.Peaks(x, rules)
		for i, p := range peaks {
			if p.Prominence < rules.MinProminence || p.LeftBase > p.Index || p.RightBase < p.Index || p.Width < 0 {
				t.Fatalf("peak %+v breaks %+v", p, rules)
			}
			if i > 0 && p.Index-peaks[i-1].Index < rules.MinDistance {
				t.Fatalf("peaks at %d and %d are nearer than %d", peaks[i-1].Index, p.Index, rules.MinDistance)
			}
		}
		rules.MinProminence *= 2
		scaled := signal.Peaks(up, rules)
		if len(scaled) != len(peaks) {
			t.Fatalf("scaling changes %d peaks to %d", len(peaks), len(scaled))
		}
		for i, p := range scaled {
			if p.Index != peaks[i].Index || math.Abs(p.Prominence-2*peaks[i].Prominence) > 1e-12 || math.Abs(p.Width-peaks[i].Width) > 1e-9 {
				t.Fatalf("scaling changes %+v to %+v", peaks[i], p)
			}
		}
	})
}
