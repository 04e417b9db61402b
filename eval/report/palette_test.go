package report_test

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"strikerose/eval"
	"strikerose/eval/report"
)

// rgb is a colour in linear light, 0 to 1.
type rgb [3]float64

func colour(t *testing.T, hex string) rgb {
	t.Helper()
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	var out rgb
	for k := range out {
		v := float64(n>>(16-8*k)&255) / 255
		if out[k] = v / 12.92; v > 0.04045 {
			out[k] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return out
}

// times multiplies by a matrix and keeps to what a screen shows.
func (c rgb) times(m [3]rgb) (out rgb) {
	for k, row := range m {
		out[k] = max(0, min(1, row[0]*c[0]+row[1]*c[1]+row[2]*c[2]))
	}
	return out
}

func (c rgb) luminance() float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] }

// contrast is the ratio of WCAG 2.2, section 1.4.3.
func contrast(a, b rgb) float64 {
	x, y := a.luminance()+0.05, b.luminance()+0.05
	return max(x, y) / min(x, y)
}

// lab is the colour in CIE L*a*b* under D65.
func (c rgb) lab() rgb {
	xyz := rgb{0.4124*c[0] + 0.3576*c[1] + 0.1805*c[2], 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2], 0.0193*c[0] + 0.1192*c[1] + 0.9505*c[2]}
	var f rgb
	for k, white := range (rgb{0.9505, 1, 1.089}) {
		v := xyz[k] / white
		if f[k] = math.Cbrt(v); v <= 216./24389 {
			f[k] = (24389./27*v + 16) / 116
		}
	}
	return rgb{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

func distance(a, b rgb) float64 {
	x, y := a.lab(), b.lab()
	return math.Sqrt((x[0]-y[0])*(x[0]-y[0]) + (x[1]-y[1])*(x[1]-y[1]) + (x[2]-y[2])*(x[2]-y[2]))
}

// Whole loss of one kind of cone, in linear light: Machado, Oliveira and Fernandes
// (2009), A Physiologically-based Model for Simulation of Color Vision Deficiency,
// table 1, severity 1.
var visions = map[string][3]rgb{
	"usual":        {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

// The words of a page can be read in light, in the dark and on paper, and its
// marks told from the paper and from one another by people who lack one kind of
// cone.
func TestColoursCanBeTold(t *testing.T) {
	var page bytes.Buffer
	if err := report.HTML(&page, withTraces(t, eval.LeaveSession), meta); err != nil {
		t.Fatal(err)
	}
	themes := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(page.String(), -1)
	if len(themes) != 3 {
		t.Fatalf("%d themes, want light, dark and paper", len(themes))
	}
	for k, theme := range []string{"light", "dark", "paper"} {
		c := map[string]rgb{}
		for _, m := range regexp.MustCompile(`--([a-z]+): #([0-9a-f]{6});`).FindAllStringSubmatch(themes[k][1], -1) {
			c[m[1]] = colour(t, m[2])
		}
		for _, ground := range []string{"paper", "card"} {
			for name, least := range map[string]float64{"ink": 7, "soft": 4.5, "right": 3, "flip": 3, "faint": 2.5, "wrong": 2} {
				if got := contrast(c[name], c[ground]); got < least {
					t.Errorf("%s: %s on %s has a contrast of %.2f, want %g", theme, name, ground, got, least)
				}
			}
		}
		for name, vision := range visions {
			for _, pair := range [][2]string{{"right", "wrong"}, {"right", "flip"}, {"wrong", "flip"}, {"right", "paper"}, {"wrong", "paper"}, {"flip", "paper"}} {
				if got := distance(c[pair[0]].times(vision), c[pair[1]].times(vision)); got < 18 {
					t.Errorf("%s, %s: %s and %s are %.0f apart in CIE L*a*b*, want 18", theme, name, pair[0], pair[1], got)
				}
			}
		}
	}
}

// A page can be heard: its headings go down one step at a time, every table says
// what it is and what its cells belong to, and every drawing tells what it shows.
func TestPageCanBeHeard(t *testing.T) {
	var page bytes.Buffer
	if err := report.HTML(&page, withTraces(t, eval.LeaveRig), meta); err != nil {
		t.Fatal(err)
	}
	got := page.String()
	last := 0
	for _, m := range regexp.MustCompile(`<h([1-6])>(.*?)</h`).FindAllStringSubmatch(got, -1) {
		level := int(m[1][0] - '0')
		if level > last+1 || last > 0 && level == 1 {
			t.Errorf("heading %q of level %d follows one of level %d", m[2], level, last)
		}
		last = level
	}
	for k, table := range regexp.MustCompile(`(?s)<table.*?</table>`).FindAllString(got, -1) {
		if !strings.Contains(table, "<caption>") {
			t.Errorf("table %d has no caption: %.100s", k, table)
		}
		for _, th := range regexp.MustCompile(`<th[ >][^>]*>?`).FindAllString(table, -1) {
			if !strings.Contains(th, "scope=") {
				t.Errorf("table %d: %s has no scope", k, th)
			}
		}
		if strings.Contains(table, "<tbody>") && !strings.Contains(table, `<th scope="row">`) {
			t.Errorf("table %d names no row", k)
		}
	}
	for _, m := range regexp.MustCompile(`<svg class="figure"[^>]* role="img" aria-label="([^"]*)">`).FindAllStringSubmatch(got, -1) {
		if finds := regexp.MustCompile(`\d`).MatchString(m[1]); !finds {
			t.Errorf("a drawing says no finding: %q", m[1])
		}
	}
	for _, scroll := range regexp.MustCompile(`<div class="scroll"[^>]*>`).FindAllString(got, -1) {
		if !strings.Contains(scroll, `tabindex="0"`) || !strings.Contains(scroll, `role="region"`) || !strings.Contains(scroll, "aria-label=") {
			t.Errorf("a wide table cannot be reached by keyboard: %s", scroll)
		}
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(got, -1) {
		if ids[m[1]] {
			t.Errorf("two parts are called %s", m[1])
		}
		ids[m[1]] = true
	}
	for _, m := range regexp.MustCompile(`href="#([^"]*)"`).FindAllStringSubmatch(got, -1) {
		if !ids[m[1]] {
			t.Errorf("a link leads to %s, which there is not", m[1])
		}
	}
}
