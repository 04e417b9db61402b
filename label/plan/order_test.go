package plan

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func usualDesign() Design {
	return Design{Faces: 6, Bands: []string{"low", "mid", "high"}, Kinds: []string{"straight", "hook", "uppercut"}, PerCell: 2, Seed: 1}
}

func mustOrder(t interface{ Fatal(...any) }, d Design) []Entry {
	entries, err := Order(d)
	if err != nil {
		t.Fatal(err)
	}
	return entries
}

func drawDesign(t *rapid.T) Design {
	names := []string{"low", "mid", "high"}
	d := Design{
		Faces:   rapid.IntRange(1, 6).Draw(t, "faces"),
		Bands:   names[:rapid.IntRange(1, 3).Draw(t, "bands")],
		Kinds:   []string{"straight", "hook"}[:rapid.IntRange(1, 2).Draw(t, "kinds")],
		PerCell: rapid.IntRange(1, 2).Draw(t, "per cell"),
		Seed:    rapid.Uint64().Draw(t, "seed"),
	}
	d.Pairs = rapid.IntRange(0, d.Strikes()/2).Draw(t, "pairs")
	return d
}

// Whatever is asked for: each cell equally often, numbers without a gap, double
// hits as many as asked, one right before two and within reach.
func TestOrderIsBalanced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDesign(t)
		entries := mustOrder(t, d)
		cells, pairs := map[Entry]int{}, 0
		for i, e := range entries {
			if e.Order != i+1 {
				t.Fatalf("strike %d has order %d", i+1, e.Order)
			}
			if e.Pair == "two" && (i == 0 || entries[i-1].Pair != "one") || e.Pair == "one" && (i == len(entries)-1 || entries[i+1].Pair != "two") {
				t.Fatalf("strike %d is a %q without its other half", i+1, e.Pair)
			}
			if e.Pair == "two" {
				pairs++
				if n := d.facesApart(entries[i-1], e); n > 1 {
					t.Fatalf("the double hit at %d reaches over %d faces", i, n)
				}
			}
			cells[Entry{Face: e.Face, Band: e.Band, Kind: e.Kind}]++
		}
		if pairs != d.Pairs || len(cells) != d.cells() {
			t.Fatalf("%d double hits and %d cells, want %d and %d", pairs, len(cells), d.Pairs, d.cells())
		}
		for cell, n := range cells {
			if n != d.PerCell {
				t.Fatalf("%+v is struck %d times, want %d", cell, n, d.PerCell)
			}
		}
	})
}

// avoidable tells by trying every order whether some strikes, so many at each
// place, can be ordered without neighbours that are easily confused.
func avoidable(d Design, left []int) bool {
	dead := map[string]bool{}
	var try func(last int) bool
	try = func(last int) bool {
		key := fmt.Sprint(left, last)
		if dead[key] {
			return false
		}
		done := true
		for p, n := range left {
			if n == 0 {
				continue
			}
			done = false
			if last >= 0 && d.Confusable(d.at(last), d.at(p)) {
				continue
			}
			left[p]--
			ok := try(p)
			left[p]++
			if ok {
				return true
			}
		}
		dead[key] = !done
		return done
	}
	return try(-1)
}

// Neighbours are easily confused only where every order has such neighbours.
func TestOrderAvoidsConfusion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Design{
			Faces:   rapid.IntRange(1, 7).Draw(t, "faces"),
			Bands:   []string{"low", "mid", "high", "top"}[:rapid.IntRange(1, 4).Draw(t, "bands")],
			Kinds:   []string{"straight"},
			PerCell: 1,
			Seed:    rapid.Uint64().Draw(t, "seed"),
		}
		if d.Faces*len(d.Bands) <= 7 {
			d.PerCell = rapid.IntRange(1, 3).Draw(t, "per cell")
		}
		if d.Strikes() > 16 {
			t.Skip("too many to try every order")
		}
		left := make([]int, d.Faces*len(d.Bands))
		for p := range left {
			left[p] = d.PerCell
		}
		entries := mustOrder(t, d)
		if n := d.ConfusableNeighbours(entries); n > 0 && avoidable(d, left) {
			t.Fatalf("%d neighbours are easily confused, which could be avoided: %+v", n, entries)
		}
	})
}

// The usual plans, with and without double hits, have no such neighbours, and
// any slip by a few shows in most strikes.
func TestOrderShowsSlips(t *testing.T) {
	for seed := range uint64(5) {
		for _, pairs := range []int{0, 15} {
			d := usualDesign()
			d.Seed, d.Pairs = seed, pairs
			entries := mustOrder(t, d)
			if n := d.ConfusableNeighbours(entries); n != 0 {
				t.Errorf("seed %d, %d double hits: %d neighbours are easily confused", seed, pairs, n)
			}
			for block := range slices.Chunk(entries, 18) {
				places := map[Entry]bool{}
				for _, e := range block {
					places[Entry{Face: e.Face, Band: e.Band}] = true
				}
				if len(places) != 18 {
					t.Errorf("seed %d, %d double hits: %d faces and bands from strike %d on, want all 18 before any comes again", seed, pairs, len(places), block[0].Order)
				}
			}
			slips := d.Slips(entries, 3)
			for _, s := range slips {
				if s.Shows < 0.55 || s.Longest > 10 {
					t.Errorf("seed %d, %d double hits: a slip %+v, want 0.55 of strikes to show it and at most 10 together not to", seed, pairs, s)
				}
			}
			if pairs == 0 && slips[0] != (Slip{By: 1, Shows: 1}) {
				t.Errorf("seed %d: a slip by one %+v, want every strike to show it", seed, slips[0])
			}
		}
	}
}

func TestSlips(t *testing.T) {
	d := usualDesign()
	entries := []Entry{{Face: 1, Band: "low"}, {Face: 4, Band: "low"}, {Face: 6, Band: "mid"}, {Face: 1, Band: "high"}, {Face: 1, Band: "low"}}
	want := []Slip{{By: 1, Shows: 0.75, Longest: 1}, {By: 2, Shows: 1 - 2.0/3, Longest: 1}, {By: 3, Shows: 1}, {By: 4, Shows: 0, Longest: 1}}
	got := d.Slips(entries, 9)
	if len(got) != len(want) {
		t.Fatalf("slips %+v, want %+v", got, want)
	}
	for i := range want {
		got[i].Shows = math.Round(got[i].Shows*1e9) / 1e9
		want[i].Shows = math.Round(want[i].Shows*1e9) / 1e9
		if got[i] != want[i] {
			t.Errorf("slip %+v, want %+v", got[i], want[i])
		}
	}
	if n := d.ConfusableNeighbours(entries); n != 1 {
		t.Errorf("%d neighbours easily confused, want 1", n)
	}
}

func TestOrderIsDeterministic(t *testing.T) {
	d := usualDesign()
	d.Pairs = 10
	a, b := mustOrder(t, d), mustOrder(t, d)
	if !reflect.DeepEqual(a, b) {
		t.Error("the same design gives two plans")
	}
	d.Seed++
	if reflect.DeepEqual(a, mustOrder(t, d)) {
		t.Error("another seed gives the same plan")
	}
}

// What was planned is laid back over a session with misses and strikes in
// between, without a wrong label.
func TestOrderAligns(t *testing.T) {
	for _, c := range []struct {
		pairs int
		blur
		labelled, right float64 // at least
	}{
		{0, blur{turnDeg: 30, sdDeg: 6, hookDeg: 20, flipLow: 0.02, dropShare: 0.05, extras: 4, heightSD: 0.06}, 0.95, 0.99},
		{20, blur{turnDeg: -80, sdDeg: 6, hookDeg: 20, flipLow: 0.9, dropShare: 0.05, extras: 4, heightSD: 0.06}, 0.95, 0.975},
	} {
		var sum tally
		for seed := range uint64(3) {
			d := usualDesign()
			d.Seed, d.Pairs = seed, c.pairs
			entries := mustOrder(t, d)
			rng := rand.New(rand.NewPCG(seed, 9))
			finds, orders := c.finds(carryOut(entries, rng), rng)
			a, err := Align(t.Context(), entries, finds, Options{Faces: 6})
			if err != nil {
				t.Fatal(err)
			}
			sum.add(a, entries, orders)
		}
		t.Logf("%d double hits: %v", c.pairs, sum)
		if float64(sum.labelled) < c.labelled*float64(sum.strikes) || float64(sum.right) < c.right*float64(sum.labelled) {
			t.Errorf("%d double hits: %v", c.pairs, sum)
		}
	}
}

func TestOrderRefuses(t *testing.T) {
	for want, change := range map[string]func(*Design){
		"0 faces":           func(d *Design) { d.Faces = 0 },
		"0 bands":           func(d *Design) { d.Bands = nil },
		"0 kinds":           func(d *Design) { d.Kinds = nil },
		"0 strikes a cell":  func(d *Design) { d.PerCell = 0 },
		"several sessions":  func(d *Design) { d.PerCell = 1 << 60 },
		"55 double hits":    func(d *Design) { d.Pairs = 55 },
		"-1 double hits":    func(d *Design) { d.Pairs = -1 },
		"cells of 2 strike": func(d *Design) { d.Faces = 1 << 40 },
	} {
		d := usualDesign()
		change(&d)
		if _, err := Order(d); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Order = %v, want an error with %q", err, want)
		}
	}
}

// A plan that was written reads back the same.
func TestWriteAndRead(t *testing.T) {
	d := usualDesign()
	d.Pairs = 7
	want := mustOrder(t, d)
	var b bytes.Buffer
	if err := Write(&b, want); err != nil {
		t.Fatal(err)
	}
	got, err := Read(&b, "made.csv", testRig())
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v, read back %+v, want %+v", err, got, want)
	}
}

// Rounds hold everything in order, are about as long as asked, and split no
// double hit.
func TestRounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDesign(t)
		entries := slices.Concat(slices.Concat(d.units(rand.New(rand.NewPCG(d.Seed, 1)), true)...)...)
		size := rapid.IntRange(0, 40).Draw(t, "size")
		rounds := Rounds(entries, size)
		var all []Entry
		for _, r := range rounds {
			all = append(all, r...)
			if size > 0 && len(r) > size+1 {
				t.Fatalf("a round of %d, want about %d", len(r), size)
			}
			if r[0].Pair == "two" || r[len(r)-1].Pair == "one" {
				t.Fatalf("a round splits a double hit: %+v", r)
			}
		}
		if !reflect.DeepEqual(all, entries) {
			t.Fatalf("rounds hold %+v, want %+v", all, entries)
		}
		if size == 0 && len(rounds) != 1 {
			t.Fatalf("%d rounds, want one", len(rounds))
		}
	})
	if got := Rounds(nil, 5); got != nil {
		t.Errorf("rounds of nothing: %v", got)
	}
}
