package report_test

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/eval/bound"
	"strikerose/eval/report"
)

// drawings makes every drawing of bounds of one rig, in files by name.
func drawings(t *testing.T) map[string][]byte {
	t.Helper()
	r := datasettest.Rig(t)
	s := bound.Setting{Rig: r, Model: bound.UsualModelNoise(), AfterS: 0.06}
	depths, heights := []float64{0.05, 0.2, 0.35, 0.5, 0.65}, []float64{0.1, 0.3, 0.5, 0.7, 0.9}
	m, err := bound.OverDepth(t.Context(), s, depths, heights)
	if err != nil {
		t.Fatal(err)
	}
	m.Least[0][0].BearingSDDeg = math.Inf(1) // as where it cannot be told
	var along, over []report.BoundLine
	waits := []float64{0.01, 0.03, 0.06, 0.1, 0.2, 0.4}
	for _, x := range []struct {
		name string
		gyro bool
	}{{"with gyroscope", true}, {"accelerometer only", false}} {
		s.Gyro = x.gyro
		l, err := bound.AlongBag(s, heights)
		if err != nil {
			t.Fatal(err)
		}
		along = append(along, report.BoundLine{Name: x.name, Least: l})
		over = append(over, report.BoundLine{Name: x.name})
		for _, after := range waits {
			s := s
			s.AfterS = after
			l, err := bound.At(s, 0.5)
			if err != nil {
				t.Fatal(err)
			}
			over[len(over)-1].Least = append(over[len(over)-1].Least, l)
		}
	}
	out := map[string][]byte{}
	put := func(name string, write func(io.Writer) error) {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = b.Bytes()
	}
	for name, of := range map[string]report.BoundOf{"bearing": report.BoundBearing, "height": report.BoundHeight} {
		put("bound_map_"+name+".svg", func(w io.Writer) error { return report.BoundMapSVG(w, m, of) })
		put("bound_wait_"+name+".svg", func(w io.Writer) error { return report.BoundWaitSVG(w, waits, over, of) })
		put("bound_bag_"+name+".svg", func(w io.Writer) error { return report.BoundBagSVG(w, along, of) })
	}
	return out
}

func TestBoundGolden(t *testing.T) {
	for name, got := range drawings(t) {
		datasettest.Golden(t, name, got)
		if dir := os.Getenv("STRIKEROSE_KEEP_PAGES"); dir != "" {
			if err := os.WriteFile(filepath.Join(dir, name), got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func TestBoundDrawings(t *testing.T) {
	again := drawings(t)
	for name, got := range drawings(t) {
		if !bytes.Equal(got, again[name]) {
			t.Errorf("%s: drawn twice, it differs", name)
		}
		for _, want := range []string{`role="img"`, "<title>", `xmlns="http://www.w3.org/2000/svg"`, "prefers-color-scheme: dark", "--ink:"} {
			if !bytes.Contains(got, []byte(want)) {
				t.Errorf("%s lacks %s", name, want)
			}
		}
		for _, banned := range []string{"NaN", "Inf", "#00000"} {
			if bytes.Contains(got, []byte(banned)) {
				t.Errorf("%s holds %s", name, banned)
			}
		}
		d := xml.NewDecoder(bytes.NewReader(got))
		for {
			_, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
	}
}

func TestBoundDrawingsRefuse(t *testing.T) {
	cannot := []bound.Least{{HeightM: 0.1, BearingSDDeg: math.Inf(1), HeightSDM: math.Inf(1)}, {HeightM: 0.2, BearingSDDeg: math.Inf(1), HeightSDM: math.Inf(1)}}
	one := report.BoundLine{Name: "one", Least: cannot}
	for name, c := range map[string]struct {
		err  error
		want string
	}{
		"empty map":  {report.BoundMapSVG(io.Discard, bound.Map{}, report.BoundBearing), "nothing to draw"},
		"no lines":   {report.BoundBagSVG(io.Discard, nil, report.BoundHeight), "give 1 to 4 lines"},
		"five lines": {report.BoundBagSVG(io.Discard, []report.BoundLine{one, one, one, one, one}, report.BoundHeight), "give 1 to 4 lines"},
		"unlike":     {report.BoundWaitSVG(io.Discard, []float64{0.1, 0.2, 0.3}, []report.BoundLine{one}, report.BoundHeight), "2 points, the chart 3"},
		"back":       {report.BoundWaitSVG(io.Discard, []float64{0.2, 0.1}, []report.BoundLine{one}, report.BoundHeight), "growing"},
		"nowhere":    {report.BoundBagSVG(io.Discard, []report.BoundLine{one}, report.BoundBearing), "bearing, degrees can be told nowhere"},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, c.err, c.want)
		}
	}
}
