package eval

import (
	"math"

	"strikerose/dataset/rig"
	"strikerose/models"
)

// Cost is what one answer of a detector takes on a board, after the features.
type Cost struct {
	Macs     int       `json:"macs"`               // multiply-accumulate operations of one answer, beside the features, at least 0
	Numbers  int       `json:"numbers"`            // how many numbers are stored, at least 0
	Bytes    int       `json:"bytes"`              // size of the stored numbers in single precision, at least 0
	WaitMs   float64   `json:"wait_ms"`            // how long after the onset it listens, milliseconds, at least 0
	Board    bool      `json:"board"`              // whether it can be exported to a board
	NotBoard string    `json:"not_board"`          // why it cannot; empty where it can
	Measured *Measured `json:"measured,omitempty"` // what it takes of a board; absent where it was not measured (--measure)
}

// Measured is what was measured of a detector on a board or its simulator. What was
// not is nil.
type Measured struct {
	Target     string `json:"target"`                // board it was measured on
	Unit       string `json:"unit"`                  // unit of work: cycles, or instructions where an emulator counts those
	FlashBytes *int   `json:"flash_bytes,omitempty"` // bytes of code and tables, at least 0; absent where not measured
	RAMBytes   *int   `json:"ram_bytes,omitempty"`   // bytes of state, sample buffer and stack, at least 0; absent where not measured
	Work       *int   `json:"work,omitempty"`        // what the hardest sample takes, at least 0; absent where not measured
}

// Dearest is the larger of two measurements on one board in each part.
func (m Measured) Dearest(o Measured) Measured {
	larger := func(a, b *int) *int {
		if a == nil || b != nil && *b > *a {
			return b
		}
		return a
	}
	m.FlashBytes, m.RAMBytes, m.Work = larger(m.FlashBytes, o.FlashBytes), larger(m.RAMBytes, o.RAMBytes), larger(m.Work, o.Work)
	return m
}

// bytesOfNumber is the size of a number in single precision.
const bytesOfNumber = 4

// costOf is what a fitted detector costs on one rig. A board holds only what
// that rig needs.
func costOf(d models.Detector, r *rig.Rig) Cost {
	info := d.Info()
	if m, ok := d.(*models.Model); ok {
		info = m.For(r).Info()
	}
	c := Cost{
		Macs: info.Cost.Macs, Numbers: info.Cost.Numbers, Bytes: bytesOfNumber * info.Cost.Numbers,
		WaitMs: info.Wait(r.HasGyro()), Board: info.Board,
	}
	if !c.Board {
		c.NotBoard = info.NotBoard
	}
	return c
}

// dearest is the larger of two costs in each part.
func dearest(a, b Cost) Cost {
	if b.NotBoard == "" {
		b.NotBoard = a.NotBoard
	}
	return Cost{
		Macs: max(a.Macs, b.Macs), Numbers: max(a.Numbers, b.Numbers), Bytes: max(a.Bytes, b.Bytes),
		WaitMs: math.Max(a.WaitMs, b.WaitMs), Board: a.Board && b.Board, NotBoard: b.NotBoard,
	}
}

// flashBytes is what the detector takes of a board's flash: as measured, else
// the numbers alone.
func (c Cost) flashBytes() int {
	if c.Measured != nil && c.Measured.FlashBytes != nil {
		return *c.Measured.FlashBytes
	}
	return c.Bytes
}

// noDearer tells whether c costs no more than d in any part.
func (c Cost) noDearer(d Cost) bool {
	return c.Macs <= d.Macs && c.flashBytes() <= d.flashBytes() && c.WaitMs <= d.WaitMs && (c.Board || !d.Board)
}

// whole is a cost in one number, by which detectors that all serve are ranked:
// an operation counts as much as a number.
func (c Cost) whole() int { return c.Macs + c.Numbers }

// DetectorCost is a detector's cost in a group, and whether it is worth it.
type DetectorCost struct {
	Detector string `json:"detector"` // name of the detector
	Cost
	BeatenBy string `json:"beaten_by,omitempty"` // name of a detector that errs less, in bearing and height, and costs no more; absent where none does
}

// markBeaten fills in who beats whom by the rows' mean errors: of several the
// one that errs least in bearing.
func markBeaten(costs []DetectorCost, rows []Row) {
	err := func(k int, measure string) float64 {
		if f := rows[k].Figure(measure); f.Known() {
			return f.Value
		}
		return math.Inf(1) // it tells nothing
	}
	for k := range costs {
		least := math.Inf(1)
		for j := range costs {
			b, h := err(j, BearingMAE), err(j, HeightMAE)
			noWorse := b <= err(k, BearingMAE) && h <= err(k, HeightMAE)
			better := b < err(k, BearingMAE) || h < err(k, HeightMAE)
			if noWorse && better && costs[j].noDearer(costs[k].Cost) && b < least {
				costs[k].BeatenBy, least = costs[j].Detector, b
			}
		}
	}
}
