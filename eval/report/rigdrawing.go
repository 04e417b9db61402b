package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"strikerose/eval/advice"
)

// A drawing of a rig for a terminal, to scale: a character cell is taken to be
// twice as high as wide, as it nearly is everywhere.
const (
	mostBagRows    = 24
	mostBagColumns = 28
	mostChainRows  = 12 // a longer chain is drawn broken
	mostStrapRows  = 8  // longer straps are drawn short
	rulerWidth     = 8
)

// rigDrawing is a sheet's rig in rows of characters.
type rigDrawing struct {
	sheet  *advice.Sheet
	rowM   float64 // height of a row
	half   int     // columns from the axis to the bag's skin
	chain  int     // rows of chain
	broken bool    // the chain is longer than drawn
	strap  int     // rows of strap, the ring's included
	bag    int     // rows of bag, without its edges
	rows   [][]rune
	notes  []string // right of each row
	axis   int      // column of the bag's axis
	bagTop int      // row of the bag's top edge
}

// drawRig draws the rig in rows of rowM metres.
func drawRig(s *advice.Sheet, rowM float64) *rigDrawing {
	r := s.Rig
	d := &rigDrawing{sheet: s, rowM: rowM}
	d.half = max(2, int(math.Round(r.Bag.DiameterM/rowM)))
	d.bag = max(1, int(math.Round(r.Bag.LengthM/rowM)))
	d.strap = min(mostStrapRows, max(1, int(math.Round(r.Hang.StrapM/rowM))))
	d.chain = max(1, int(math.Round(r.Hang.ChainM/rowM)))
	if d.chain > mostChainRows {
		d.chain, d.broken = mostChainRows, true
	}
	d.axis = rulerWidth + 1 + d.half
	d.bagTop = 1 + d.chain + d.strap
	total := d.bagTop + d.bag + 2
	d.notes = make([]string, total)
	for range total {
		d.rows = append(d.rows, []rune(strings.Repeat(" ", d.axis+d.half+2)))
	}
	d.hanging()
	d.outline()
	d.ruler()
	d.marks()
	return d
}

// withNotes are the rows with their notes.
func (d *rigDrawing) withNotes() []string {
	out := make([]string, len(d.rows))
	for i, row := range d.rows {
		out[i] = strings.TrimRight(string(row)+" "+d.notes[i], " ")
	}
	return out
}

// beside are the rows of two drawings next to each other, bottom edges level.
func beside(a, b *rigDrawing) []string {
	n := max(len(a.rows), len(b.rows))
	out := make([]string, n)
	for i := range n {
		left := strings.Repeat(" ", len(a.rows[0]))
		if k := i - (n - len(a.rows)); k >= 0 {
			left = string(a.rows[k])
		}
		right := ""
		if k := i - (n - len(b.rows)); k >= 0 {
			right = string(b.rows[k])
		}
		out[i] = strings.TrimRight(left+right, " ")
	}
	return out
}

// rowHeight is a round number of metres a row that fits the bag.
func rowHeight(s *advice.Sheet) float64 {
	b := s.Rig.Bag
	for _, m := range []float64{0.005, 0.01, 0.02, 0.025, 0.05, 0.1, 0.2, 0.25} {
		if b.LengthM/m <= mostBagRows && 2*b.DiameterM/m <= mostBagColumns {
			return m
		}
	}
	return max(b.LengthM/mostBagRows, 2*b.DiameterM/mostBagColumns)
}

func (d *rigDrawing) put(row, column int, text string) {
	for i, c := range []rune(text) {
		d.rows[row][column+i] = c
	}
}

// hanging draws swivel, chain, ring and straps.
func (d *rigDrawing) hanging() {
	r := d.sheet.Rig
	d.put(0, d.axis, "┬")
	d.notes[0] = "swivel"
	for i := range d.chain {
		link := "│"
		if d.broken && (i == d.chain/2 || i == d.chain/2-1) {
			link = "┊"
		}
		d.put(1+i, d.axis, link)
	}
	d.notes[1+d.chain/2] = fmt.Sprintf("chain %.2f m", r.Hang.ChainM)
	if d.broken {
		d.notes[1+d.chain/2] += ", longer than drawn"
	}
	ring := 1 + d.chain
	d.put(ring, d.axis, "o")
	d.notes[ring] = fmt.Sprintf("ring; strap %.2f m", r.Hang.StrapM)
	if r.Hang.StrapM > (mostStrapRows+0.5)*d.rowM {
		d.notes[ring] += ", longer than drawn"
	}
	for i := 1; i < d.strap; i++ {
		spread := max(1, (d.half-1)*i/d.strap)
		d.put(ring+i, d.axis-spread, "/")
		d.put(ring+i, d.axis+spread, "\\")
	}
}

// row is the row in which a height lies.
func (d *rigDrawing) row(heightM float64) int {
	share := (d.sheet.Rig.Bag.LengthM - heightM) / d.sheet.Rig.Bag.LengthM
	return d.bagTop + 1 + max(0, min(d.bag-1, int(math.Floor(share*float64(d.bag)))))
}

// outline draws the bag's skin and its core; below the dead height, or above
// it, the skin is drawn double.
func (d *rigDrawing) outline() {
	r, dead := d.sheet.Rig, d.sheet.Dead
	left, right := d.axis-d.half, d.axis+d.half
	edge := strings.Repeat("─", 2*d.half-1)
	d.put(d.bagTop, left, "┌"+edge+"┐")
	d.put(d.bagTop, d.axis, "┴")
	d.put(d.bagTop+d.bag+1, left, "└"+edge+"┘")
	for i := range d.bag {
		row := d.bagTop + 1 + i
		h := r.Bag.LengthM * (1 - (float64(i)+0.5)/float64(d.bag))
		skin := "│"
		if h > dead.FlipFromM && h < dead.FlipToM {
			skin = "║"
		}
		d.put(row, left, skin)
		d.put(row, right, skin)
		if c := r.Core; c != nil {
			depth := r.Bag.LengthM - h
			if depth >= c.TopDepthM && depth < c.TopDepthM+c.LengthM {
				half := max(0, min(d.half-1, int(math.Round(c.DiameterM/d.rowM-0.5))))
				d.put(row, d.axis-half, strings.Repeat("░", 2*half+1))
			}
		}
	}
}

// ruler draws the scale of heights and the bands at the left.
func (d *rigDrawing) ruler() {
	r := d.sheet.Rig
	for _, b := range d.sheet.Bands {
		if b.FromM > 0 {
			row := d.row(b.FromM - 1e-9)
			d.put(row, d.axis-d.half-1, "-")
		}
	}
	label := func(row int, text string) {
		d.put(row, 0, fmt.Sprintf("%*s", rulerWidth, clip(text, rulerWidth-1)+" "))
	}
	label(d.bagTop, fmt.Sprintf("%.2f m", r.Bag.LengthM))
	label(d.bagTop+d.bag+1, "0.00 m")
	taken := []int{d.bagTop, d.bagTop + d.bag + 1}
	for _, b := range d.sheet.Bands {
		if row := d.row(b.FromM - 1e-9); b.FromM > 0 && !slices.Contains(taken, row) {
			label(row, fmt.Sprintf("%.2f", b.FromM))
			taken = append(taken, row)
		}
	}
	for _, b := range d.sheet.Bands {
		if row := d.row((b.FromM + b.ToM) / 2); !slices.Contains(taken, row) {
			label(row, b.Name)
			taken = append(taken, row)
		}
	}
}

// mark is a height with a sign on the axis and a note.
type mark struct {
	heightM    float64
	sign, note string
	dashes     bool
}

// marks draws sensor, centre of mass and dead height, each with its note in
// the nearest free row.
func (d *rigDrawing) marks() {
	s := d.sheet
	var all []mark
	if h := s.Dead.HeightM; h != nil && s.Dead.OnBag {
		all = append(all, mark{*h, "", fmt.Sprintf("dead height %.2f m", *h), true})
	}
	all = append(all,
		mark{s.Mass.CentreHeightM, "+", fmt.Sprintf("+ centre of mass %.2f m", s.Mass.CentreHeightM), false},
		mark{s.Rig.Bag.LengthM - s.Rig.Sensor.DepthM, "S", fmt.Sprintf("S sensor %.2f m", s.Rig.Bag.LengthM-s.Rig.Sensor.DepthM), false})
	for i, m := range all {
		row, column := d.row(m.heightM), d.axis
		if i == len(all)-1 && m.heightM > s.Rig.Bag.LengthM { // the sensor on the straps
			row = min(d.bagTop, max(1+d.chain, d.bagTop-int(math.Round((m.heightM-s.Rig.Bag.LengthM)/d.rowM))))
		}
		if m.dashes {
			for c := d.axis - d.half + 1; c < d.axis+d.half; c++ {
				d.put(row, c, "╌")
			}
		} else if d.rows[row][column] == '+' { // never hide the other
			d.put(row, column-1, m.sign)
		} else {
			d.put(row, column, m.sign)
		}
		d.note(row, m.note)
	}
	if c := s.Rig.Core; c != nil {
		d.note(d.row(s.Rig.Bag.LengthM-c.TopDepthM-c.LengthM/4), fmt.Sprintf("░ core %.0f kg", c.MassKg))
	}
	if s.Dead.FlipToM > s.Dead.FlipFromM {
		d.note(d.row((s.Dead.FlipFromM+s.Dead.FlipToM)/2), "║ first kick reversed")
	}
}

// note puts a note beside a row, or beside the nearest one that has none.
func (d *rigDrawing) note(row int, text string) {
	for away := range len(d.notes) {
		for _, r := range []int{row + away, row - away} {
			if r >= 0 && r < len(d.notes) && d.notes[r] == "" {
				d.notes[r] = text
				return
			}
		}
	}
}
