package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"strikerose/eval"
)

// section is the part of a page about one rig: its strikes and its geometry.
type section struct {
	c       *eval.Comparison
	group   eval.Group
	strikes []int // positions in c.Strikes
	faces   int
	lengthM float64
	bands   []bandEdge
	deadM   []float64 // dead heights of the rig's revisions, as far as they are on the bag
}

// sectionOf gathers the strikes of a rig by name; "" is all of them.
func sectionOf(c *eval.Comparison, g eval.Group) section {
	s := section{c: c, group: g}
	for i, x := range c.Strikes {
		if g.Rig == "" || x.Name == g.Rig {
			s.strikes = append(s.strikes, i)
		}
	}
	if len(s.strikes) == 0 {
		return s
	}
	first := c.Strikes[s.strikes[0]]
	s.faces, s.lengthM = first.Faces, first.LengthM
	from := 0.0
	for i, name := range first.Bands {
		s.bands = append(s.bands, bandEdge{name: name, fromM: from, toM: first.BandToM[i]})
		from = first.BandToM[i]
	}
	for _, i := range s.strikes {
		if m := c.Strikes[i].DeadM; !math.IsNaN(m) && !slices.Contains(s.deadM, m) {
			s.deadM = append(s.deadM, m)
		}
	}
	return s
}

// scores picks one detector's scores of the section's strikes.
func (s section) scores(detector int) []eval.Score {
	out := make([]eval.Score, len(s.strikes))
	for j, i := range s.strikes {
		out[j] = s.c.Scores[detector][i]
	}
	return out
}

// landed says in words how many strikes landed on each face.
func (s section) landed() string {
	count := make([]int, s.faces+1)
	for _, i := range s.strikes {
		if f := s.c.Strikes[i].Truth.Face; f >= 1 && f <= s.faces {
			count[f]++
		}
	}
	var parts []string
	for f := 1; f <= s.faces; f++ {
		parts = append(parts, fmt.Sprintf("face %d: %d", f, count[f]))
	}
	return strings.Join(parts, ", ")
}

// confusion counts answers by what was true.
type confusion struct {
	Of    string // faces or bands
	One   string // face or band
	Names []string
	Rows  []confusionRow
}

type confusionRow struct {
	Name  string
	Cells []confusionCell
}

// confusionCell is a count; Level, 0 to 4, is how dark it is shown, by its
// share of the row.
type confusionCell struct {
	Count int
	Level int
	Right bool
}

// faceConfusion tells onto which face a detector put the strikes of each face.
func (s section) faceConfusion(detector int) confusion {
	names := make([]string, s.faces)
	for f := range names {
		names[f] = fmt.Sprint(f + 1)
	}
	return s.confuse("faces", names, func(i int) (int, int) {
		x := s.c.Strikes[i]
		return x.Truth.Face - 1, s.c.AnswerFace(detector, i) - 1
	})
}

// bandConfusion tells into which band a detector put the strikes of each band,
// the highest band first.
func (s section) bandConfusion(detector int) confusion {
	n := len(s.bands)
	names := make([]string, n)
	index := map[string]int{}
	for i, b := range s.bands {
		names[n-1-i] = b.name
		index[b.name] = n - i
	}
	return s.confuse("bands", names, func(i int) (int, int) {
		return index[s.c.Strikes[i].Truth.Band] - 1, index[s.c.AnswerBand(detector, i)] - 1
	})
}

// rightWords says how many of the strikes lie on the diagonal.
func (k confusion) rightWords() string {
	hit, all := 0, 0
	for _, row := range k.Rows {
		for _, cell := range row.Cells {
			all += cell.Count
			if cell.Right {
				hit += cell.Count
			}
		}
	}
	return fmt.Sprintf("%d of %d right", hit, all)
}

// mixed lists the confusions of a detector of which there is something to count.
func (s section) mixed(detector int) []confusion {
	return slices.DeleteFunc([]confusion{s.faceConfusion(detector), s.bandConfusion(detector)}, func(k confusion) bool { return len(k.Rows) == 0 })
}

func (s section) confuse(of string, names []string, sort func(strike int) (truth, answer int)) confusion {
	n := len(names)
	count := make([][]int, n)
	for i := range count {
		count[i] = make([]int, n)
	}
	any := false
	for _, i := range s.strikes {
		if truth, answer := sort(i); truth >= 0 && truth < n && answer >= 0 && answer < n {
			count[truth][answer]++
			any = true
		}
	}
	out := confusion{Of: of, One: strings.TrimSuffix(of, "s"), Names: names}
	if !any {
		return confusion{}
	}
	for i, name := range names {
		row := confusionRow{Name: name}
		total := 0
		for _, k := range count[i] {
			total += k
		}
		for j, k := range count[i] {
			cell := confusionCell{Count: k, Right: i == j}
			if k > 0 {
				cell.Level = 1 + min(3, 4*k/(total+1))
			}
			row.Cells = append(row.Cells, cell)
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}
