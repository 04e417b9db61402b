package report_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/eval/advice"
	"strikerose/eval/report"
)

// cored is a bag with a core, whose sensor sits near the top; lowered has the
// sensor near the centre of mass.
func cored(t *testing.T) *rig.Rig {
	t.Helper()
	r := datasettest.Rig(t)
	r.Name = "hall"
	r.Core = &rig.Core{MassKg: 19, LengthM: 0.86, DiameterM: 0.14, TopDepthM: 0.05}
	return r
}

func lowered(t *testing.T) *rig.Rig {
	t.Helper()
	r := cored(t)
	r.Revision = 2
	r.Sensor.DepthM = 0.44
	return r
}

func sheet(t *testing.T, r *rig.Rig) *advice.Sheet {
	t.Helper()
	if err := r.Validate(); err != nil {
		t.Fatal(err)
	}
	s, err := advice.Of(t.Context(), r, advice.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func change(t *testing.T) *advice.Change {
	t.Helper()
	c, err := advice.Between(t.Context(), cored(t), lowered(t), advice.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// fits checks that no line of a text is wider than a terminal.
func fits(t *testing.T, name, text string) {
	t.Helper()
	for i, line := range strings.Split(text, "\n") {
		if n := utf8.RuneCountInString(line); n > report.Width {
			t.Errorf("%s:%d: %d columns, want at most %d: %s", name, i+1, n, report.Width, line)
		}
		if strings.Contains(line, "NaN") || strings.Contains(line, "Inf") {
			t.Errorf("%s:%d: %s", name, i+1, line)
		}
	}
}

func rigText(t *testing.T, s *advice.Sheet) string {
	t.Helper()
	var b bytes.Buffer
	if err := report.RigText(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestRigGolden(t *testing.T) {
	c := change(t)
	for name, s := range map[string]*advice.Sheet{"rig_top": c.Before, "rig_lowered": c.After} {
		text := rigText(t, s)
		fits(t, name, text)
		datasettest.Golden(t, name+".txt", []byte(text))
		var svg bytes.Buffer
		if err := report.RigSVG(&svg, s); err != nil {
			t.Fatal(err)
		}
		datasettest.Golden(t, name+".svg", svg.Bytes())
	}
	var b bytes.Buffer
	if err := report.RigChangeText(&b, c); err != nil {
		t.Fatal(err)
	}
	fits(t, "rig_change", b.String())
	datasettest.Golden(t, "rig_change.txt", b.Bytes())
}

// JSON holds all that the text says: written from a sheet read back from JSON,
// the text is the same.
func TestRigJSONHoldsTheText(t *testing.T) {
	c := change(t)
	data, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	var back advice.Change
	if err := json.Unmarshal(data, &back); err != nil {
		t.Fatal(err)
	}
	var one, two bytes.Buffer
	for w, x := range map[*bytes.Buffer]*advice.Change{&one: c, &two: &back} {
		if err := report.RigChangeText(w, x); err != nil {
			t.Fatal(err)
		}
		w.WriteString(rigText(t, x.Before) + rigText(t, x.After))
	}
	if one.String() != two.String() {
		t.Errorf("the text from JSON differs:\n%s", two.String())
	}
}

// The keys of the JSON are stable: one may come to this list, none may go.
func TestRigJSONKeys(t *testing.T) {
	c := change(t)
	data, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	var value any
	if err := json.Unmarshal(data, &value); err != nil {
		t.Fatal(err)
	}
	keys := map[string]bool{}
	var walk func(path string, v any)
	walk = func(path string, v any) {
		switch v := v.(type) {
		case map[string]any:
			for k, x := range v {
				walk(path+"."+k, x)
			}
		case []any:
			for _, x := range v {
				walk(path+"[]", x)
			}
		default:
			keys[strings.TrimPrefix(path, ".")] = true
		}
	}
	walk("", value)
	datasettest.Golden(t, "rig_keys.txt", []byte(strings.Join(slices.Sorted(maps.Keys(keys)), "\n")+"\n"))
}

// oddRigs are rigs at the edges of what a file may say.
func oddRigs(t *testing.T) map[string]*rig.Rig {
	t.Helper()
	centre, gyration := 0.5, 0.3
	out := map[string]*rig.Rig{}
	for name, set := range map[string]func(*rig.Rig){
		"sensor at the centre of mass": func(r *rig.Rig) {
			r.Bag.CentreOfMassDepthM, r.Bag.RadiusOfGyrationM = &centre, &gyration
			r.Sensor.DepthM = centre
		},
		"sensor on the straps": func(r *rig.Rig) { r.Sensor.DepthM = -0.08 },
		"sensor at the bottom": func(r *rig.Rig) { r.Sensor.DepthM = 1 },
		"long chain":           func(r *rig.Rig) { r.Hang.ChainM = 20 },
		"no strap":             func(r *rig.Rig) { r.Hang.StrapM = 0 },
		"long straps":          func(r *rig.Rig) { r.Hang.StrapM = 5 },
		"ball": func(r *rig.Rig) {
			r.Bag = rig.Bag{MassKg: 5, LengthM: 0.3, DiameterM: 0.3}
			r.Bands = []rig.Band{{Name: "all"}}
		},
		"pancake": func(r *rig.Rig) {
			r.Bag = rig.Bag{MassKg: 500, LengthM: 0.1, DiameterM: 2}
			r.Bands = []rig.Band{{Name: "all"}}
		},
		"pole": func(r *rig.Rig) { r.Bag = rig.Bag{MassKg: 60, LengthM: 5, DiameterM: 0.05}; r.Sensor.DepthM = 3 },
		"many bands": func(r *rig.Rig) {
			r.Bands = nil
			for i := range 9 {
				r.Bands = append(r.Bands, rig.Band{Name: "a-band-with-a-very-long-name-" + string(rune('a'+i)), ToM: float64(i+1) / 10})
			}
			r.Bands = append(r.Bands, rig.Band{Name: "last"})
		},
		"no gyroscope": func(r *rig.Rig) { r.Sensor.GyroRangeDPS, r.Sensor.GyroLSBPerDPS = 0, 0 },
		"slow":         func(r *rig.Rig) { r.Sensor.RateHz = 10 },
	} {
		r := datasettest.Rig(t)
		r.Sensor.RateHz = 200
		set(r)
		out[name] = r
	}
	return out
}

// Any rig is drawn within the terminal, and as XML that says what it shows.
func TestOddRigs(t *testing.T) {
	for name, r := range oddRigs(t) {
		t.Run(name, func(t *testing.T) {
			s := sheet(t, r)
			fits(t, name, rigText(t, s))
			var b bytes.Buffer
			c := &advice.Change{Values: []advice.Value{}, Before: s, After: s}
			if err := report.RigChangeText(&b, c); err != nil {
				t.Fatal(err)
			}
			fits(t, name, b.String())
			checkSVG(t, func(w io.Writer) error { return report.RigSVG(w, s) })
			for _, chart := range report.RigCharts(s) {
				if err := chart.Write(io.Discard); err != nil {
					t.Errorf("chart %s: %v", chart.Name, err)
				}
			}
		})
	}
}

func TestRigFiguresAreSound(t *testing.T) {
	c := change(t)
	checkSVG(t, func(w io.Writer) error { return report.RigSVG(w, c.Before, c.After) })
	charts := report.RigCharts(c.Before)
	if len(charts) != 7 {
		t.Errorf("%d charts, want 7", len(charts))
	}
	checkSVG(t, charts[0].Write) // the others are drawings of bounds, with tests of their own
	for _, chart := range charts {
		if err := chart.Write(io.Discard); err != nil {
			t.Errorf("chart %s: %v", chart.Name, err)
		}
	}
}

// checkSVG checks that a figure is XML with title and description, stands by
// itself, follows the screen's colours and stays within its frame.
func checkSVG(t *testing.T, write func(io.Writer) error) {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	svg := b.String()
	for _, want := range []string{`role="img"`, "<title", "<desc", "prefers-color-scheme: dark", "</svg>"} {
		if !strings.Contains(svg, want) {
			t.Errorf("the figure lacks %s", want)
		}
	}
	for _, banned := range []string{"NaN", "Inf", "<script", "url(http", "@import", "href"} {
		if strings.Contains(svg, banned) {
			t.Errorf("the figure holds %s", banned)
		}
	}
	var width, height float64
	d := xml.NewDecoder(&b)
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		e, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		at := map[string]float64{}
		for _, a := range e.Attr {
			var v float64
			if json.Unmarshal([]byte(a.Value), &v) == nil {
				at[a.Name.Local] = v
			}
		}
		switch e.Name.Local {
		case "svg":
			width, height = at["width"], at["height"]
		case "text", "rect":
			if at["x"] < 0 || at["y"] < 0 || at["x"] > width || at["y"] > height {
				t.Errorf("%v lies outside the figure of %g by %g", e.Attr, width, height)
			}
		}
	}
	if !(width > 0 && height > 0) || math.IsInf(height, 0) {
		t.Errorf("the figure is %g by %g", width, height)
	}
	if classes := regexp.MustCompile(`class="([a-z ]+)"`).FindAllStringSubmatch(svg, -1); len(classes) > 0 {
		for _, c := range classes {
			for _, name := range strings.Fields(c[1]) {
				if !strings.Contains(svg, "."+name+" {") {
					t.Errorf("the style sheet knows no class %q", name)
				}
			}
		}
	}
}
