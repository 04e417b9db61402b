package plan

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func called(s float64) *float64 { return &s }

// What WriteCalled writes, Read reads.
func TestWriteCalled(t *testing.T) {
	want := []Entry{{1, 4, "low", "straight", "one", called(3.25)}, {2, 6, "mid", "hook", "two", called(3.25)}, {5, 1, "high", "uppercut", "", nil}}
	var text strings.Builder
	if err := WriteCalled(&text, want); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(text.String(), "order,face,band,kind,pair,call_s\n1,4,low,straight,one,3.250\n") {
		t.Errorf("written:\n%s", text.String())
	}
	got, err := Read(strings.NewReader(text.String()), "p.csv", testRig())
	if diff := cmp.Diff(want, got); diff != "" || err != nil {
		t.Errorf("Read: %v (-want +got):\n%s", err, diff)
	}
}

func TestReadRefusesCalls(t *testing.T) {
	for text, want := range map[string]string{
		"order,face,band,kind,call_s\n1,4,low,tap,soon\n":             `p.csv:2:13: call_s "soon" is not a number`,
		"order,face,band,kind,call_s\n1,4,low,tap,5\n2,4,low,tap,3\n": "strike 2 was called at 3 s, before the one ahead of it",
	} {
		if _, err := Read(strings.NewReader(text), "p.csv", testRig()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Read: %v, want %q", err, want)
		}
	}
}

// calledOut strikes a plan that was called out on a clock of its own, and
// blurs what is found so much that its order alone leaves doubts.
func calledOut(seed uint64) (plan []Entry, finds []Find, orders []int) {
	rng := rand.New(rand.NewPCG(seed, 11))
	plan = randomPlan(60, rng)
	thrown := carryOut(plan, rng)
	for i, s := range thrown {
		call := s.timeS + 1234.5 - 0.45 + 0.2*rng.NormFloat64()
		if i > 0 && plan[i].Pair == "two" {
			call = *plan[i-1].CallS // both of a double hit are called at once
		}
		if i > 0 {
			call = max(call, *plan[i-1].CallS)
		}
		plan[i].CallS = &call
	}
	finds, orders = blur{sdDeg: 35, hookDeg: 45, dropShare: 0.2, extras: 12}.finds(thrown, rng)
	return plan, finds, orders
}

// Call times settle what the order leaves in doubt.
func TestAlignByCalls(t *testing.T) {
	var with, without tally
	for seed := range uint64(4) {
		entries, finds, orders := calledOut(seed)
		a, err := Align(t.Context(), entries, finds, Options{Faces: 6, AnyOrder: true})
		if err != nil {
			t.Fatal(err)
		}
		with.add(a, entries, orders)
		for i := range entries {
			entries[i].CallS = nil
		}
		if a, err = Align(t.Context(), entries, finds, Options{Faces: 6, AnyOrder: true}); err != nil {
			t.Fatal(err)
		}
		without.add(a, entries, orders)
	}
	if float64(with.right) < 0.88*float64(with.strikes) || with.right < 3*without.right || float64(with.right) < 0.88*float64(with.labelled) {
		t.Errorf("with calls %v, without %v", with, without)
	}
}

// Calls of another session do not count, and change nothing.
func TestCallsOfAnotherSession(t *testing.T) {
	entries, finds, _ := made(5, 60, blur{sdDeg: 6, hookDeg: 15, heightSD: 0.05})
	want, err := Align(t.Context(), entries, finds, Options{Faces: 6, AnyOrder: true})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 1))
	call := 0.0
	for i := range entries {
		call += 8 * rng.ExpFloat64()
		entries[i].CallS = called(call)
	}
	got, err := Align(t.Context(), entries, finds, Options{Faces: 6, AnyOrder: true})
	if diff := cmp.Diff(want, got); diff != "" || err != nil {
		t.Errorf("Align: %v (-want +got):\n%s", err, diff)
	}
}
