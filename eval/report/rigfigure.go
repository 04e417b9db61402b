package report

import (
	_ "embed"
	"fmt"
	"html"
	"io"
	"math"
	"strconv"
	"strings"
)

//go:embed rigfigure.css
var rigStyle string

// figure is an SVG file in the making, in pixels from the top left. Colours
// are variables of its style sheet, for light and dark screens.
type figure struct {
	b             strings.Builder
	width, height float64
}

// writeTo writes the file with a title and a description for readers who
// cannot see it.
func (f *figure) writeTo(w io.Writer, title, about string) error {
	_, err := fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %[1]s %[2]s" width="%[1]s" height="%[2]s" role="img" aria-labelledby="title about">
<title id="title">%[3]s</title>
<desc id="about">%[4]s</desc>
<style>
%[5]s</style>
<defs><pattern id="reversed" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="hatch" x1="0" y1="0" x2="0" y2="8"/></pattern></defs>
<rect class="paper" width="100%%" height="100%%"/>
%[6]s</svg>
`, px(f.width), px(f.height), html.EscapeString(title), html.EscapeString(about), rigStyle, f.b.String())
	return err
}

// px writes a length with at most one decimal.
func px(x float64) string {
	return strconv.FormatFloat(math.Round(10*x)/10+0, 'f', -1, 64) // + 0 takes the sign off -0
}

func (f *figure) text(x, y float64, class, format string, args ...any) {
	fmt.Fprintf(&f.b, "<text class=\"%s\" x=\"%s\" y=\"%s\">%s</text>\n", class, px(x), px(y), html.EscapeString(fmt.Sprintf(format, args...)))
}

func (f *figure) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&f.b, "<line class=\"%s\" x1=\"%s\" y1=\"%s\" x2=\"%s\" y2=\"%s\"/>\n", class, px(x1), px(y1), px(x2), px(y2))
}

// rect draws the rectangle between two corners.
func (f *figure) rect(class string, x1, y1, x2, y2, round float64) {
	fmt.Fprintf(&f.b, "<rect class=\"%s\" x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\" rx=\"%s\"/>\n", class,
		px(min(x1, x2)), px(min(y1, y2)), px(math.Abs(x2-x1)), px(math.Abs(y2-y1)), px(round))
}

func (f *figure) circle(class string, x, y, r float64) {
	fmt.Fprintf(&f.b, "<circle class=\"%s\" cx=\"%s\" cy=\"%s\" r=\"%s\"/>\n", class, px(x), px(y), px(r))
}

// spot is a point of a curve; one that is not known breaks it.
type spot struct {
	x, y  float64
	known bool
}

// curve draws a curve through spots.
func (f *figure) curve(class string, spots []spot) {
	var d strings.Builder
	move := "M"
	for _, s := range spots {
		if !s.known {
			move = "M"
			continue
		}
		d.WriteString(move + px(s.x) + " " + px(s.y))
		move = "L"
	}
	if d.Len() > 0 {
		fmt.Fprintf(&f.b, "<path class=\"%s\" d=\"%s\"/>\n", class, d.String())
	}
}

// axis maps values to a stretch of pixels, by their logarithm or evenly.
type axis struct {
	from, to    float64 // pixels
	least, most float64
	log         bool
	ticks       []float64
}

// logAxis spans whole decades around some values, at most five.
func logAxis(from, to float64, values []float64) axis {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if v > 0 {
			low, high = min(low, v), max(high, v)
		}
	}
	if math.IsInf(low, 0) {
		low, high = 1, 1
	}
	last := math.Floor(math.Log10(high)) + 1
	first := max(last-5, min(math.Floor(math.Log10(low)), last-1))
	a := axis{from: from, to: to, least: math.Pow(10, first), most: math.Pow(10, last), log: true}
	for p := first; p <= last; p++ {
		a.ticks = append(a.ticks, math.Pow(10, p))
	}
	return a
}

// evenAxis spans 0 to a value with about four steps of a round size.
func evenAxis(from, to, most float64) axis {
	if !(most > 0) {
		most = 1
	}
	step := math.Pow(10, math.Floor(math.Log10(most/4)))
	for _, k := range []float64{1, 2, 5, 10} {
		if most/(k*step) <= 5 {
			step *= k
			break
		}
	}
	a := axis{from: from, to: to, most: step * math.Ceil(most/step-1e-9)}
	for i := 0; float64(i)*step <= a.most*(1+1e-9); i++ {
		a.ticks = append(a.ticks, float64(i)*step)
	}
	return a
}

// at is where a value lies; values beyond the ends lie on them.
func (a axis) at(v float64) float64 {
	share := (v - a.least) / (a.most - a.least)
	if a.log {
		share = math.Log(max(v, a.least)/a.least) / math.Log(a.most/a.least)
	}
	return a.from + (a.to-a.from)*max(0, min(1, share))
}

// tickText writes a tick without the noise of binary fractions.
func tickText(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
