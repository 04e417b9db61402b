package plan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/label"
)

// made is a made-up session and its plan.
func made(seed uint64, entries int, b blur) (plan []Entry, finds []Find, orders []int) {
	rng := rand.New(rand.NewPCG(seed, 7))
	plan = randomPlan(entries, rng)
	finds, orders = b.finds(carryOut(plan, rng), rng)
	return plan, finds, orders
}

func TestAlign(t *testing.T) {
	usual := blur{turnDeg: 30, sdDeg: 6, hookDeg: 15, flipLow: 0.02, heightSD: 0.05}
	for _, c := range []struct {
		name            string
		change          func(*blur)
		labelled, right float64 // at least, as shares
	}{
		{"clean", func(*blur) {}, 0.97, 1},
		{"turned about", func(b *blur) { b.turnDeg = 187 }, 0.97, 1},
		{"low strikes flip", func(b *blur) { b.flipLow = 0.95 }, 0.97, 1},
		{"half the low strikes flip", func(b *blur) { b.flipLow = 0.5 }, 0.95, 0.99},
		{"no height features", func(b *blur) { b.heightSD = 0 }, 0.95, 0.99},
		{"misses and extras", func(b *blur) { b.dropShare, b.extras = 0.05, 5 }, 0.9, 0.96},
	} {
		t.Run(c.name, func(t *testing.T) {
			var sum tally
			for seed := range uint64(3) {
				b := usual
				c.change(&b)
				entries, finds, orders := made(seed, 70, b)
				a, err := Align(t.Context(), entries, finds, Options{Faces: 6, AnyOrder: true})
				if err != nil {
					t.Fatal(err)
				}
				sum.add(a, entries, orders)
			}
			labelled := float64(sum.labelled) / float64(sum.strikes)
			right := float64(sum.right) / float64(sum.labelled)
			if labelled < c.labelled || right < c.right {
				t.Errorf("%v, want at least %.2f labelled and %.2f right", sum, c.labelled, c.right)
			}
		})
	}
}

func TestParametersAreFound(t *testing.T) {
	entries, finds, _ := made(3, 120, blur{turnDeg: -40, sdDeg: 4, hookDeg: 22, flipLow: 0.9, heightSD: 0.05})
	a, err := Align(t.Context(), entries, finds, Options{Faces: 6, AnyOrder: true})
	if err != nil {
		t.Fatal(err)
	}
	// Aim scatters by 8 degrees, so that straight strikes lie 9 off and hooks 23.
	for what, v := range map[string][3]float64{
		"offset":      {a.OffsetDeg, -42, -38},
		"straight sd": {a.StraightSDDeg, 7, 11},
		"hook sd":     {a.HookSDDeg, 17, 31},
		"misses":      {a.MissRate, 0, 0.02},
		"extras":      {a.ExtraRate, 0, 0.02},
	} {
		if v[0] < v[1] || v[0] > v[2] {
			t.Errorf("%s is %.3f, want %g to %g", what, v[0], v[1], v[2])
		}
	}
	for _, b := range a.Bands {
		if (b.Band == "low") != (b.Share > 0.5) {
			t.Errorf("band %s flips in %.2f of strikes, want only low ones to", b.Band, b.Share)
		}
	}
}

// TestAlignTurns: turning all pushes by an angle turns the offset and leaves
// the labels.
func TestAlignTurns(t *testing.T) {
	entries, finds, _ := made(11, 30, blur{sdDeg: 6, hookDeg: 15, flipLow: 0.3, dropShare: 0.05, extras: 3, heightSD: 0.05})
	before, err := Align(t.Context(), entries, finds, Options{Faces: 6})
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(-360, 360).Draw(t, "turn")
		turned := make([]Find, len(finds))
		for j, f := range finds {
			turned[j] = f
			turned[j].PushBearingDeg = bearing.Wrap360(f.PushBearingDeg + deg)
		}
		after, err := Align(context.Background(), entries, turned, Options{Faces: 6, AnyOrder: true})
		if err != nil {
			t.Fatal(err)
		}
		if d := bearing.Diff(after.OffsetDeg, before.OffsetDeg+deg); math.Abs(d) > 0.5 {
			t.Fatalf("the offset turns from %.2f to %.2f, not by %.2f", before.OffsetDeg, after.OffsetDeg, deg)
		}
		for j := range finds {
			a, b := before.Finds[j], after.Finds[j]
			near := math.Abs(a.Posterior-0.9) < 0.02 // either side of the limit
			if a.Entry != b.Entry && !near && a.State == Labelled || a.State != b.State && !near {
				t.Fatalf("find %d was %+v and is %+v", j, a, b)
			}
		}
	})
}

// TestSwappingEntriesBreaksAgreement: labels follow the plan's order, so that
// a plan with its halves exchanged labels little or is refused.
func TestSwappingEntriesBreaksAgreement(t *testing.T) {
	entries, finds, orders := made(12, 60, blur{sdDeg: 6, hookDeg: 15, heightSD: 0.05})
	swapped := append(append([]Entry(nil), entries[30:]...), entries[:30]...)
	a, err := Align(t.Context(), swapped, finds, Options{Faces: 6, AnyOrder: true})
	if err != nil {
		t.Fatal(err)
	}
	var sum tally
	sum.add(a, swapped, orders)
	if sum.right > 32 {
		t.Errorf("with its halves exchanged, %v", sum)
	}
}

func TestSessionAndPlanOfOtherLength(t *testing.T) {
	entries, finds, orders := made(13, 90, blur{turnDeg: 10, sdDeg: 6, hookDeg: 15, heightSD: 0.05})
	warmUp := []Find{}
	for k := range 12 {
		warmUp = append(warmUp, Find{TimeS: float64(k - 40), PushBearingDeg: float64(97 * k % 360), Height: []float64{0.5}})
	}
	for _, c := range []struct {
		name    string
		entries []Entry
		finds   []Find
		orders  []int
	}{
		{"session ended early", entries, finds[:35], orders[:35]},
		{"session began late", entries, finds[50:], orders[50:]},
		{"strikes after the plan", entries[:45], finds, append(append([]int(nil), orders[:45]...), make([]int, len(orders)-45)...)},
		{"strikes before the plan", entries, append(warmUp, finds...), append(make([]int, len(warmUp)), orders...)},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, err := Align(t.Context(), c.entries, c.finds, Options{Faces: 6})
			if err != nil {
				t.Fatal(err)
			}
			var sum tally
			sum.add(a, c.entries, c.orders)
			if float64(sum.labelled) < 0.95*float64(sum.strikes) || sum.right < sum.labelled-1 {
				t.Errorf("%v", sum)
			}
			if a.MissRate > 0.05 || a.ExtraRate > 0.08 {
				t.Errorf("misses %.3f and extras %.3f, though plan and session fit where they overlap", a.MissRate, a.ExtraRate)
			}
			if n := len(c.entries) - sum.strikes; len(a.Missed) < n-1 || len(a.Missed) > n+2 {
				t.Errorf("%d entries missed, want %d", len(a.Missed), n)
			}
		})
	}
}

func TestAnotherSessionsPlanIsRefused(t *testing.T) {
	b := blur{turnDeg: 30, sdDeg: 6, hookDeg: 15, flipLow: 0.3, heightSD: 0.05}
	for seed := range uint64(4) {
		entries, _, _ := made(seed, 60, b)
		_, finds, _ := made(seed+100, 60, b)
		a, err := Align(t.Context(), entries, finds, Options{Faces: 6})
		if !errors.Is(err, ErrChance) {
			t.Errorf("seed %d: err %v, chance: %v", seed, err, a.Chance)
		}
	}
	// Pushes that say nothing are no better.
	entries, finds, _ := made(7, 80, b)
	rng := rand.New(rand.NewPCG(7, 7))
	for j := range finds {
		finds[j].PushBearingDeg, finds[j].Height[0] = 360*rng.Float64(), rng.Float64()
	}
	if a, err := Align(t.Context(), entries, finds, Options{Faces: 6}); !errors.Is(err, ErrChance) {
		t.Errorf("random pushes: err %v, chance: %v", err, a.Chance)
	}
}

// TestPlanOfFewKinds: nine entries in ten are alike, so that the order tells
// little; the right plan is known all the same, and another's is not.
func TestPlanOfFewKinds(t *testing.T) {
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 8))
		session := func() ([]Entry, []Find) {
			entries := randomPlan(60, rng)
			for i := range entries {
				if rng.IntN(10) > 0 {
					entries[i].Face, entries[i].Band, entries[i].Kind = 1, "mid", "straight"
				}
			}
			finds, _ := blur{sdDeg: 6, hookDeg: 15, extras: 2, heightSD: 0.05}.finds(carryOut(entries, rng), rng)
			return entries, finds
		}
		entries, finds := session()
		_, others := session()
		if a, err := Align(t.Context(), entries, finds, Options{Faces: 6}); err != nil {
			t.Errorf("seed %d: %v, %.2f nats a strike", seed, err, a.Chance.FitNats())
		}
		if a, err := Align(t.Context(), entries, others, Options{Faces: 6}); !errors.Is(err, ErrChance) {
			t.Errorf("seed %d, another session: %v, %v", seed, err, a.Chance)
		}
	}
}

func TestAnticlockwiseNumberingIsRefusedUnlessAsked(t *testing.T) {
	entries, finds, _ := made(21, 60, blur{sdDeg: 6, hookDeg: 15, heightSD: 0.05})
	for i := range entries {
		entries[i].Face = (6-(entries[i].Face-1))%6 + 1
	}
	if _, err := Align(t.Context(), entries, finds, Options{Faces: 6}); !errors.Is(err, ErrAnticlockwise) {
		t.Fatalf("err %v, want ErrAnticlockwise", err)
	}
	a, err := Align(t.Context(), entries, finds, Options{Faces: 6, Anticlockwise: true})
	if err != nil || a.Sense != -1 {
		t.Fatalf("asked for: sense %d, %v", a.Sense, err)
	}
	strikes := make([]dataset.Strike, len(finds))
	for i := range strikes {
		strikes[i].OnsetNs = int64(finds[i].TimeS * 1e9)
	}
	right, claims := 0, a.Claims(entries, strikes, 6)
	plain, _, _ := made(21, 60, blur{sdDeg: 6, hookDeg: 15, heightSD: 0.05})
	for _, c := range claims {
		if c.Face == plain[c.PlanOrder-1].Face { // as numbered clockwise
			right++
		}
	}
	if right != len(claims) || right < 55 {
		t.Errorf("%d of %d claims are renumbered clockwise", right, len(claims))
	}
}

func TestClaims(t *testing.T) {
	a := Alignment{Sense: 1, Finds: []Assignment{{Labelled, 1, 0.98}, {Ambiguous, 0, 0.5}, {Extra, -1, 0.95}}}
	entries := []Entry{{1, 2, "low", "tap", "", nil}, {2, 5, "high", "hook", "two", nil}}
	got := a.Claims(entries, []dataset.Strike{{OnsetNs: 10}, {OnsetNs: 20}, {OnsetNs: 30}}, 6)
	want := []label.Claim{{OnsetNs: 10, Source: label.Plan, Face: 5, Band: "high", Kind: "hook", Pair: "two", PlanOrder: 2,
		Confidence: 0.98, BearingSDDeg: label.AimSDDeg, HeightSDM: label.AimSDM}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("Claims = %+v, want %+v", got, want)
	}
}

func TestAllEntriesAlike(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 1))
	var entries []Entry
	for i := range 30 {
		entries = append(entries, Entry{Order: i + 1, Face: 2, Band: "mid", Kind: "straight"})
	}
	finds, _ := blur{sdDeg: 6}.finds(carryOut(entries, rng), rng)
	a, err := Align(t.Context(), entries, finds, Options{Faces: 6})
	if err != nil || a.Chance.Orders != 0 || a.Finds[15].State != Labelled {
		t.Errorf("alike and struck: %v, %v, %+v", err, a.Chance, a.Finds[15])
	}
	for j := range finds {
		finds[j].PushBearingDeg = 360 * rng.Float64()
	}
	if a, err := Align(t.Context(), entries, finds, Options{Faces: 6}); !errors.Is(err, ErrChance) {
		t.Errorf("alike, but struck from anywhere: %v, %v", err, a.Chance)
	}
}

func TestAlignIsDeterministic(t *testing.T) {
	entries, finds, _ := made(41, 50, blur{sdDeg: 8, hookDeg: 20, flipLow: 0.4, extras: 4, heightSD: 0.05})
	a, err := Align(t.Context(), entries, finds, Options{Faces: 6, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	if b, _ := Align(t.Context(), entries, finds, Options{Faces: 6, Seed: 3}); !reflect.DeepEqual(a, b) {
		t.Fatalf("two runs differ:\n%+v\n%+v", a, b)
	}
}

func TestAlignHandlesPoorInput(t *testing.T) {
	entries, finds, _ := made(51, 40, blur{sdDeg: 6, hookDeg: 15, heightSD: 0.05})
	poor := append([]Find(nil), finds...)
	poor[3].PushBearingDeg, poor[5].Height = math.NaN(), []float64{math.NaN()}
	poor[7].PushBearingDeg, poor[9].Height = math.Inf(1), []float64{math.Inf(-1)}
	a, err := Align(t.Context(), entries, poor, Options{Faces: 6})
	if err != nil {
		t.Fatal(err)
	}
	for j, f := range a.Finds {
		if math.IsNaN(f.Posterior) || f.Posterior < 0 || f.Posterior > 1+1e-9 {
			t.Errorf("find %d: posterior %g", j, f.Posterior)
		}
	}
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	for name, err := range map[string]error{
		"cancelled":  second(Align(cancelled, entries, finds, Options{Faces: 6})),
		"no entries": second(Align(t.Context(), nil, finds, Options{})),
		"no finds":   second(Align(t.Context(), entries, nil, Options{})),
		"face 0":     second(Align(t.Context(), []Entry{{}}, finds, Options{})),
		"features":   second(Align(t.Context(), entries, []Find{{Height: []float64{1}}, {}}, Options{})),
		"order":      second(Align(t.Context(), entries, []Find{{TimeS: 2}, {TimeS: 1}}, Options{})),
		"NaN time":   second(Align(t.Context(), entries, []Find{{TimeS: 2}, {TimeS: math.NaN()}}, Options{})),
		"too many":   second(Align(t.Context(), make([]Entry, 6000), make([]Find, 6000), Options{})),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	// A plan is refused for its length before anything is fitted, which would see
	// that it is cancelled.
	far := Find{Height: []float64{1}}
	for _, c := range []struct {
		entries, finds int
		refused        bool
	}{{mostPlanned, 1, false}, {mostPlanned + 1, 1, true}, {19_999, 127, true}, {5004, 1251, false}, {5005, 1251, true}} {
		long := make([]Entry, c.entries)
		for i := range long {
			long[i].Face = 1 + i%6
		}
		_, err := Align(cancelled, long, slices.Repeat([]Find{far}, c.finds), Options{Faces: 6})
		switch {
		case c.refused && (err == nil || !strings.Contains(err.Error(), fmt.Sprintf("plan: %d entries against %d finds", c.entries, c.finds))):
			t.Errorf("%d entries, %d finds: %v, want it refused for its length", c.entries, c.finds, err)
		case !c.refused && !errors.Is(err, context.Canceled):
			t.Errorf("%d entries, %d finds: %v, want it taken", c.entries, c.finds, err)
		}
	}
	// One strike, one find: too little to tell, never a panic.
	if a, err := Align(t.Context(), entries[:1], finds[:1], Options{Faces: 6}); err == nil && len(a.Finds) != 1 {
		t.Errorf("one strike: %+v", a)
	}
}

func second(_ Alignment, err error) error { return err }

func TestOtherFace(t *testing.T) {
	for _, c := range []struct {
		offsetDeg float64
		faces     int
		want      bool
	}{
		{0, 6, false}, {29, 6, false}, {-29, 6, false}, {31, 6, true}, {-60, 6, true}, {60, 6, true},
		{180, 6, false}, {155, 6, false}, {-120, 6, true}, {44, 4, false}, {46, 4, true}, {0, 0, false},
	} {
		a := Alignment{OffsetDeg: c.offsetDeg}
		if got := a.OtherFace(c.faces); got != c.want {
			t.Errorf("turned by %g on %d faces: OtherFace = %v, want %v", c.offsetDeg, c.faces, got, c.want)
		}
	}
}
