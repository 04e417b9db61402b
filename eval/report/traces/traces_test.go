package traces

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/features/ringdown"
)

// blow is a window at 500 Hz with a push of half a sine, 20 ms long, toward a
// bearing, after which the bag rocks.
func blow(towardDeg, peak float64) *dataset.Window {
	w := &dataset.Window{Strike: dataset.Strike{Number: 3, OnsetNs: 5_450_000_000, PeakMPS2: peak}, RateHz: 500, Pre: 30}
	toward := cmplx.Rect(1, bearing.Rad(towardDeg))
	for k := range 3 {
		w.A[k], w.G[k] = make([]float64, 230), make([]float64, 230)
	}
	for i := range w.A[0] {
		s := float64(i-w.Pre) / w.RateHz
		size, rate := 0.0, 0.0
		switch {
		case s >= 0 && s < 0.02:
			size = peak * math.Sin(math.Pi*s/0.02)
			rate = s / 0.02
		case s >= 0.02:
			size = -0.15 * peak * math.Exp(-(s - 0.02)) * math.Sin(2*math.Pi*2*(s-0.02))
			rate = math.Cos(2 * math.Pi * 2 * (s - 0.02))
		}
		f, g := toward*complex(size, 0), toward*complex(0, rate)
		w.A[0][i], w.A[1][i], w.A[2][i] = imag(f), real(f), 9.81+0.1*size
		w.G[0][i], w.G[1][i], w.G[2][i] = imag(g), real(g), -0.2*rate
	}
	return w
}

func struck() Struck {
	return Struck{Session: "monday", Window: blow(310, 90), BearingDeg: 133, HeightM: 0.17, ReadMs: 350}
}

// recording is half a minute at 100 Hz with three blows, a gap and a restart.
func recording(t *testing.T) Recording {
	r := Recording{Session: dataset.Session{Name: "monday <1>", RawPerSecond: 1e6}, Rig: datasettest.Rig(t), Signal: &dataset.Signal{}}
	sig := r.Signal
	raw, segment := int64(5_000_000), int32(0)
	for i := range 3000 {
		if i >= 1200 && i < 1300 { // lost
			raw += 10_000
			continue
		}
		if i == 1300 {
			segment++
		}
		if i == 2400 { // the board starts again
			raw, segment = 2000, segment+1
		}
		sig.TNs = append(sig.TNs, int64(i)*10_000_000)
		sig.TRaw = append(sig.TRaw, raw)
		sig.Segment = append(sig.Segment, segment)
		raw += 10_000
		x := 0.2 * math.Sin(float64(i)/20)
		if i%700 == 500 {
			x = 80
		}
		sig.A[0], sig.A[1], sig.A[2] = append(sig.A[0], float32(x)), append(sig.A[1], float32(x/2)), append(sig.A[2], 9.81)
	}
	for n, s := range []int64{5, 12, 19, 26} {
		r.Strikes = append(r.Strikes, dataset.Strike{Number: n + 1, OnsetNs: s * 1e9})
	}
	r.Labels = []Label{{OnsetNs: 5e9, Face: 4}, {OnsetNs: 19e9, NotThere: true}, {OnsetNs: 26e9, Face: 1}}
	return r
}

// stretches ring at two frequencies, one of them disturbed halfway.
func stretches() ([]ringdown.Stretch, ringdown.Found) {
	var out []ringdown.Stretch
	for k := range 3 {
		var s ringdown.Stretch
		for i := range 150 {
			t := 0.25 + float64(i)/50
			z := cmplx.Rect(3*math.Exp(-t/2), 2*math.Pi*2*t) + complex(0.5*math.Cos(2*math.Pi*0.47*t), 0.3)
			if k == 1 && i > 75 {
				z += 2
			}
			s.S, s.Force, s.Spin = append(s.S, t), append(s.Force, z), append(s.Spin, 0.1*math.Exp(-t)*math.Sin(2*math.Pi*1.1*t))
		}
		out = append(out, s)
	}
	value := func(x float64) ringdown.Value { return ringdown.Value{Value: x, Low: x, High: x} }
	two, one := value(2), value(1)
	return out, ringdown.Found{Strikes: 3, Swing: ringdown.Mode{Hz: value(0.47)}, Rocking: ringdown.Mode{Hz: value(2), DecayS: &two},
		Twist: &ringdown.Mode{Hz: value(1.1), DecayS: &one}}
}

func pictures(t *testing.T) map[string]Picture {
	rg := datasettest.Rig(t)
	still := struck()
	still.BearingDeg, still.HeightM = math.NaN(), math.NaN()
	still.Window.G = [3][]float64{}
	all, found := stretches()
	return map[string]Picture{
		"session": Overview(recording(t)), "strike": Strike(struck()), "strike-accelerometer": Strike(still),
		"cell": Cell("Rig garage-r1, face 4, band low", 180, []*dataset.Window{blow(0, 50), blow(10, 70), blow(350, 60)}),
		"path": Path(struck(), rg), "ringdown": Ringdown("garage-r1", all, found),
	}
}

// Each picture is the same bytes as ever, well-formed, with title and
// description, and as PNG an image of twice as many pixels as points.
func TestPictures(t *testing.T) {
	for name, p := range pictures(t) {
		var svg bytes.Buffer
		if err := p.SVG(&svg); err != nil {
			t.Fatal(err)
		}
		datasettest.Golden(t, name+".svg", svg.Bytes())
		if p.Title == "" || p.About == "" {
			t.Errorf("%s: no title or no description", name)
		}
		d := xml.NewDecoder(&svg)
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		var image bytes.Buffer
		if err := p.PNG(&image); err != nil {
			t.Fatal(err)
		}
		c, err := png.DecodeConfig(&image)
		if err != nil {
			t.Fatal(err)
		}
		if c.Width != int(2*p.width) || c.Height != int(2*p.height) {
			t.Errorf("%s: %d by %d pixels for %g by %g points", name, c.Width, c.Height, p.width, p.height)
		}
	}
}

// Gaps and restarts are told apart by the board's stamps.
func TestBreaks(t *testing.T) {
	r := recording(t)
	restarts, gaps := r.breaks()
	if !slices.Equal(restarts, []float64{24}) || !slices.Equal(gaps, []span{{11.99, 13}}) {
		t.Errorf("restarts %v, gaps %v", restarts, gaps)
	}
}

// The push is found whatever its bearing: all of it lies along, nothing across,
// and contact ends with it.
func TestAlong(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(0, 360).Draw(t, "bearing")
		w := blow(deg, rapid.Float64Range(1, 200).Draw(t, "peak"))
		along, across := turned(w.A, push(w))
		if got := bearing.Deg(cmplx.Phase(push(w))); math.Abs(bearing.Diff(got, deg)) > 1e-6 {
			t.Errorf("a push toward %g is found toward %g", deg, got)
		}
		for i := range across {
			if math.Abs(across[i]) > 1e-9*w.Strike.PeakMPS2 {
				t.Fatalf("across is %g", across[i])
			}
		}
		if slices.Max(along) < 0.9*w.Strike.PeakMPS2 {
			t.Errorf("along reaches %g of %g", slices.Max(along), w.Strike.PeakMPS2)
		}
		if ends := contactMs(w, along); ends < 18 || ends > 22 {
			t.Errorf("contact ends after %g ms, want about 20", ends)
		}
	})
}

// Constant force gives half its size times the time squared.
func TestPathIntegrates(t *testing.T) {
	w := &dataset.Window{RateHz: 1000, Pre: 5}
	for k := range 3 {
		w.A[k] = make([]float64, 300)
		for i := range w.A[k] {
			w.A[k][i] = float64(2 * (k + 1))
		}
	}
	places := path(w)
	if got := places[len(places)-1]; len(places) != 151 || cmplx.Abs(got-complex(4*0.15*0.15/2, 2*0.15*0.15/2)) > 1e-9 {
		t.Errorf("%d places, the last %v", len(places), got)
	}
}

// What consists of the modes is explained; the disturbed stretch is not the
// typical one.
func TestTypical(t *testing.T) {
	all, found := stretches()
	modes := []mode{modeOf("swing", found.Swing), modeOf("rocking", found.Rocking)}
	if _, explained := typical(all, modes...); explained < 0.999 {
		t.Errorf("the modes explain %g of the typical stretch", explained)
	}
	if disturbed := share(all[1], modes...); disturbed > 0.95 {
		t.Errorf("the modes explain %g of the disturbed stretch", disturbed)
	}
	if got := explain([]float64{0, 1}, []float64{1, 2}, modes...); got != nil {
		t.Errorf("two values are explained as %v", got)
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		s     span
		about int
		want  []float64
	}{
		{span{0, 1}, 5, []float64{0, 0.2, 0.4, 0.6, 0.8, 1}}, {span{-30, 49}, 5, []float64{-20, 0, 20, 40}}, {span{-60, 398}, 10, []float64{-50, 0, 50, 100, 150, 200, 250, 300, 350}},
	} {
		got := c.s.ticks(c.about)
		if !slices.EqualFunc(got, c.want, func(a, b float64) bool { return math.Abs(a-b) < 1e-12 }) {
			t.Errorf("ticks of %v are %v, want %v", c.s, got, c.want)
		}
	}
}
