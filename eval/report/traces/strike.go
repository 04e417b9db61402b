package traces

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
)

// Struck is one strike as it is drawn.
type Struck struct {
	Session    string
	Window     *dataset.Window
	BearingDeg float64 // by its label; NaN unknown
	HeightM    float64 // likewise
	ReadMs     float64 // how long after the onset detectors read at most
}

// pushMs is how much of a strike shows the way of its push, ms after the onset:
// about as long as contact lasts.
const pushMs = 20.0

// push is the mean horizontal specific force during contact, y + i x.
func push(w *dataset.Window) complex128 {
	n := min(int(math.Round(pushMs*w.RateHz/1000)), w.Post())
	var sum complex128
	for i := w.Pre; i < w.Pre+n; i++ {
		sum += complex(w.A[1][i], w.A[0][i])
	}
	return sum
}

// turned gives the two horizontal parts of a vector's columns: along a
// direction y + i x, and across it, to its right.
func turned(v [3][]float64, toward complex128) (along, across []float64) {
	unit := complex(1, 0)
	if size := cmplx.Abs(toward); size > 0 {
		unit = toward / complex(size, 0)
	}
	for i := range v[0] {
		z := complex(v[1][i], v[0][i]) / unit
		along, across = append(along, real(z)), append(across, imag(z))
	}
	return along, across
}

// times are the window's times in ms after the onset.
func times(w *dataset.Window) []float64 {
	out := make([]float64, len(w.A[0]))
	for i := range out {
		out[i] = 1000 * float64(i-w.Pre) / w.RateHz
	}
	return out
}

// contactMs is when the push along its own way first falls to a tenth of its
// peak.
func contactMs(w *dataset.Window, along []float64) float64 {
	peak := w.Pre
	for i := w.Pre; i < min(w.Pre+int(0.05*w.RateHz), len(along)); i++ {
		if along[i] > along[peak] {
			peak = i
		}
	}
	for i := peak; i < len(along); i++ {
		if along[i] <= along[peak]/10 {
			return 1000 * float64(i-w.Pre) / w.RateHz
		}
	}
	return 1000 * float64(len(along)-1-w.Pre) / w.RateHz
}

// The looks of the parts along, across and vertical.
func alongLook() draw.LineStyle    { return stroke(blue, 1.4) }
func acrossLook() draw.LineStyle   { return stroke(orange, 1.2, 5, 2) }
func verticalLook() draw.LineStyle { return stroke(green, 1.2, 1.5, 1.5) }

// Strike draws one strike: specific force along its first push, across it and
// vertical, and rotation rates about the same three, with onset, contact and the
// stretch that detectors read.
func Strike(s Struck) Picture {
	w := s.Window
	toward := push(w)
	along, across := turned(w.A, toward)
	ms := times(w)
	ends := contactMs(w, along)
	const width = 760
	height := 300.0
	shares := []float64{3}
	if w.HasGyro() {
		height, shares = 470, []float64{3, 2}
	}
	wayDeg := bearing.Wrap360(bearing.Deg(cmplx.Phase(toward)))
	p := Picture{
		Title: fmt.Sprintf("Session %s, strike %d at %.3f s%s", s.Session, w.Strike.Number, float64(w.Strike.OnsetNs)/1e9, s.place()),
		About: fmt.Sprintf("Specific force from %.0f to %.0f ms about the onset. The first push is toward bearing %.0f degrees; contact ends after %.0f ms; peak %.0f m/s².",
			ms[0], ms[len(ms)-1], wayDeg, ends, w.Strike.PeakMPS2),
		width: width, height: vg.Length(height),
	}
	p.paint = func(c draw.Canvas) {
		panels := stack(c, width, vg.Length(height), span{ms[0], ms[len(ms)-1]}, shares...)
		for _, p := range panels {
			p.band(shade, 0, s.ReadMs)
			p.band(contactShade, 0, ends)
		}
		force := panels[0]
		force.y = spanOf(along, across, w.A[2])
		name := "ms after the onset"
		force.axes(map[bool]string{true: "", false: name}[len(panels) > 1], "specific force, m/s²")
		force.line(verticalLook(), ms, w.A[2])
		force.line(acrossLook(), ms, across)
		force.line(alongLook(), ms, along)
		force.key(entry{fmt.Sprintf("along the first push (bearing %.0f°)", wayDeg), alongLook()}, entry{"across, to its right", acrossLook()}, entry{"vertical", verticalLook()})
		if len(panels) > 1 {
			rates := panels[1]
			gAlong, gAcross := turned(w.G, toward)
			rates.y = spanOf(gAlong, gAcross, w.G[2])
			rates.axes(name, "rotation rate, rad/s")
			rates.line(verticalLook(), ms, w.G[2])
			rates.line(acrossLook(), ms, gAcross)
			rates.line(alongLook(), ms, gAlong)
			rates.key(entry{"about along", alongLook()}, entry{"about across", acrossLook()}, entry{"about vertical", verticalLook()})
			rates.frame()
		}
		for i, p := range panels {
			words := ""
			if i == 0 {
				words = "contact ends"
			}
			p.onset(i == 0)
			p.upright(stroke(ink, 0.8, 3, 2), ends, words)
			p.frame()
		}
		force.noteRight(s.ReadMs, "read by detectors")
	}
	return p
}

// place is what the label says, for the title.
func (s Struck) place() string {
	out := ""
	if !math.IsNaN(s.BearingDeg) {
		out += fmt.Sprintf(", labelled at bearing %.0f°", s.BearingDeg)
	}
	if !math.IsNaN(s.HeightM) {
		out += fmt.Sprintf(", height %.2f m", s.HeightM)
	}
	return out
}

// Cell draws many strikes of one face and band over each other, along the way
// from the face's middle to the bag's axis, across it and vertical, each with
// the median of all at every time. The windows must be equally long, at least
// one.
func Cell(name string, faceBearingDeg float64, windows []*dataset.Window) Picture {
	inward := -cmplx.Rect(1, bearing.Rad(faceBearingDeg))
	ms := times(windows[0])
	parts := make([][][]float64, 3) // along, across, vertical; of each window
	for _, w := range windows {
		along, across := turned(w.A, inward)
		parts[0], parts[1], parts[2] = append(parts[0], along), append(parts[1], across), append(parts[2], w.A[2])
	}
	const width, height = 760, 620
	return Picture{
		Title: fmt.Sprintf("%s: %d strikes", name, len(windows)),
		About: fmt.Sprintf("Specific force of %d strikes laid over each other: from the face inward, across it, and vertical, with their medians.", len(windows)),
		width: width, height: height,
		paint: func(c draw.Canvas) {
			panels := stack(c, width, height, span{ms[0], ms[len(ms)-1]}, 3, 2, 2)
			for i, p := range panels {
				p.y = spanOf(parts[i]...)
				p.axes([]string{"", "", "ms after the onset"}[i], []string{"inward, m/s²", "across, m/s²", "vertical, m/s²"}[i])
				for _, v := range parts[i] {
					p.line(stroke(thin, 0.6), ms, v)
				}
				p.line(stroke([]color.Color{blue, orange, green}[i], 1.8), ms, medians(parts[i]))
				p.onset(i == 0)
				p.key(entry{"one strike", stroke(thin, 0.8)}, entry{"median", stroke([]color.Color{blue, orange, green}[i], 1.8)})
				p.frame()
			}
		},
	}
}

// medians is the middle of all columns at each place.
func medians(columns [][]float64) []float64 {
	out := make([]float64, len(columns[0]))
	at := make([]float64, len(columns))
	for i := range out {
		for k, c := range columns {
			at[k] = c[i]
		}
		slices.SortFunc(at, cmp.Compare)
		out[i] = (at[len(at)/2] + at[(len(at)-1)/2]) / 2
	}
	return out
}
