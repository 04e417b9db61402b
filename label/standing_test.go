package label

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func planOrigin(at time.Time) Origin {
	return Origin{Session: "monday", Source: Plan, Author: "jo", At: at}
}

// said reduces claims to what they say.
func said(claims []Claim) []string {
	var out []string
	for _, c := range claims {
		out = append(out, c.statement())
	}
	slices.Sort(out)
	return out
}

func TestReviseTwiceAddsNothing(t *testing.T) {
	next := []Claim{{OnsetNs: 1e9, Face: 1}, {OnsetNs: 2e9, Face: 2}, {OnsetNs: 2e9, Face: 2}}
	journal := Revise(nil, planOrigin(noon), next)
	if len(journal) != 2 {
		t.Fatalf("first revision writes %d claims, want 2", len(journal))
	}
	for _, c := range journal {
		if err := c.Validate(); err != nil || c.ID != c.ContentID() {
			t.Errorf("%v, id %s, want %s", err, c.ID, c.ContentID())
		}
	}
	if again := Revise(journal, planOrigin(noon.Add(time.Hour)), next); len(again) != 0 {
		t.Errorf("second revision writes %d claims, want none: %+v", len(again), again)
	}
}

func TestReviseSupersedesEarlier(t *testing.T) {
	hand := Claim{Session: "monday", OnsetNs: 1e9, Source: Hand, At: noon, Face: 6}
	journal := append(withIDs(hand), Revise(nil, planOrigin(noon), []Claim{{OnsetNs: 1e9, Face: 1}, {OnsetNs: 2e9, Face: 2}, {OnsetNs: 3e9, Face: 3}})...)
	// Found again: the first moved by a millisecond, the second stays, the third is gone.
	next := []Claim{{OnsetNs: 1_001_000_000, Face: 1}, {OnsetNs: 2e9, Face: 2}}
	fresh := Revise(journal, planOrigin(noon.Add(time.Hour)), next)
	if len(fresh) != 2 {
		t.Fatalf("revision writes %+v, want a moved claim and a retraction", fresh)
	}
	if want := []string{journal[1].ID}; !slices.Equal(fresh[0].Supersedes, want) {
		t.Errorf("the moved claim supersedes %v, want %v", fresh[0].Supersedes, want)
	}
	if r := fresh[1]; !r.Retract || !slices.Equal(r.Supersedes, []string{journal[3].ID}) {
		t.Errorf("retraction %+v, want one of %s", r, journal[3].ID)
	}
	got := Standing(append(journal, fresh...))
	var onsets []int64
	for _, c := range got {
		onsets = append(onsets, c.OnsetNs)
	}
	if want := []int64{1e9, 1_001_000_000, 2e9}; !slices.Equal(onsets, want) {
		t.Errorf("standing onsets %v, want %v (the claim by hand stays)", onsets, want)
	}
}

func TestUndoAndClaimAnew(t *testing.T) {
	o := Origin{Session: "monday", Source: Hand, Author: "jo", At: noon}
	next := []Claim{{OnsetNs: 1e9, Face: 1}}
	journal := Revise(nil, o, next)
	for range 3 { // undo and redo as often as one likes
		journal = append(journal, Retraction(o, "undo", Standing(journal)[0].ID))
		if got := Standing(journal); len(got) != 0 {
			t.Fatalf("after the undo %+v stands", got)
		}
		fresh := Revise(journal, o, next)
		if len(fresh) != 1 {
			t.Fatalf("claiming anew writes %+v, want one claim", fresh)
		}
		journal = append(journal, fresh...)
		if diff := cmp.Diff(said([]Claim{fresh[0]}), said(Standing(journal))); diff != "" {
			t.Fatalf("standing (-want +got):\n%s", diff)
		}
	}
	ids := make(map[string]bool)
	for _, c := range journal {
		if ids[c.ID] {
			t.Errorf("id %s is given twice", c.ID)
		}
		ids[c.ID] = true
	}
}

// TestReviseReachesNext: whatever was claimed before, what stands of the
// source afterwards is just next, and other sources are left alone.
func TestReviseReachesNext(t *testing.T) {
	claims := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Claim {
		return Claim{OnsetNs: 1e7 * rapid.Int64Range(0, 20).Draw(t, "onset"), Face: rapid.IntRange(1, 3).Draw(t, "face")}
	}), 0, 6)
	rapid.Check(t, func(t *rapid.T) {
		hand := Origin{Session: "monday", Source: Hand, Author: "jo", At: noon}
		journal := Revise(nil, hand, claims.Draw(t, "by hand"))
		before := said(Standing(journal))
		for range rapid.IntRange(1, 4).Draw(t, "times") {
			o := planOrigin(noon)
			o.Session = rapid.SampledFrom([]string{"monday", "renamed"}).Draw(t, "session")
			next := claims.Draw(t, "next")
			journal = append(journal, Revise(journal, o, next)...)
			var want []Claim
			for _, c := range next {
				want = append(want, o.stamp(c))
			}
			var got, others []Claim
			for _, c := range Standing(journal) {
				if c.Source == Plan {
					got = append(got, c)
				} else {
					others = append(others, c)
				}
			}
			if diff := cmp.Diff(slices.Compact(said(want)), said(got)); diff != "" {
				t.Fatalf("standing plan claims (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(before, said(others)); diff != "" {
				t.Fatalf("claims by hand (-want +got):\n%s", diff)
			}
		}
	})
}
