package label

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestWhy(t *testing.T) {
	at := func(c Claim, hours int) Claim {
		c.At = noon.Add(time.Duration(hours) * time.Hour)
		return c
	}
	no := func(c Claim) Claim {
		c.Face, c.NotStrike = 0, true
		return c
	}
	timed, plan := claimAt(1000, Timed, "", 1), claimAt(1000, Plan, "", 1)
	ann := func(face int) Claim { return claimAt(1000, Hand, "ann", face) }
	bo := func(face int) Claim { return claimAt(1010, Hand, "bo", face) }
	cy := func(face int) Claim { return claimAt(990, Hand, "cy", face) }
	complete := Claim{Session: "s", Source: Timed, At: noon, Complete: true}
	for _, c := range []struct {
		name   string
		claims []Claim
		face   int // of the preferred claim
		why    string
		rivals []string // why they do not stand first
	}{
		{"timed", []Claim{plan, at(ann(2), 5), timed}, 1, "timed truth, before hand and plan",
			[]string{"gives way to timed truth", "gives way to timed truth"}},
		{"timed beats hands that agree", []Claim{ann(3), bo(3), timed}, 1, "timed truth, before hand",
			[]string{"gives way to timed truth", "gives way to timed truth"}},
		{"hands that agree beat a later one", []Claim{ann(2), bo(2), at(cy(5), 9), plan}, 2, "hands that agree: ann, bo, before plan",
			[]string{"one of the hands that agree: ann, bo", "gives way to hands that agree: ann, bo", "gives way to hands that agree: ann, bo"}},
		{"three hands, the latest of those that agree", []Claim{at(ann(2), 1), at(bo(2), 2), cy(2)}, 2, "hands that agree: ann, bo, cy",
			[]string{"one of the hands that agree: ann, bo, cy", "one of the hands that agree: ann, bo, cy"}},
		{"hands that agree on a rejection", []Claim{no(ann(0)), no(bo(0)), at(cy(4), 9)}, 0, "hands that agree on no strike: ann, bo",
			[]string{"one of the hands that agree on no strike: ann, bo", "gives way to hands that agree on no strike: ann, bo"}},
		{"one hand", []Claim{plan, ann(4)}, 4, "single hand: ann, before plan", []string{"gives way to single hand: ann"}},
		{"one hand that rejects", []Claim{plan, no(ann(0))}, 0, "single hand that says no strike: ann, before plan",
			[]string{"gives way to single hand that says no strike: ann"}},
		{"hands that differ, the latest", []Claim{ann(4), at(bo(5), 1)}, 5, "latest of hands that differ: bo; against: ann",
			[]string{"gives way to latest of hands that differ: bo; against: ann"}},
		{"a tie", []Claim{bo(5), ann(4)}, 4, "first by name of hands that differ: ann; against: bo",
			[]string{"gives way to first by name of hands that differ: ann; against: bo"}},
		{"one person twice does not agree with herself", []Claim{ann(4), claimAt(1002, Hand, "ann", 4), at(bo(5), 1)}, 5,
			"latest of hands that differ: bo; against: ann", []string{"gives way to latest of hands that differ: bo; against: ann"}},
		{"a plan", []Claim{plan}, 1, "plan", nil},
		{"a complete truth without it", []Claim{complete, plan}, 0, "timed truth that says no strike, before plan",
			[]string{"gives way to timed truth that says no strike"}},
		{"nothing", nil, 0, "", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			labels, _ := Resolve(withIDs(c.claims...), found(1000), Best, MatchNs())
			l := labels[0]
			if got := l.Why(); got != c.why {
				t.Errorf("why %q, want %q", got, c.why)
			}
			if l.Claim != nil && l.Claim.Face != c.face {
				t.Errorf("face %d, want %d", l.Claim.Face, c.face)
			}
			if rivals := l.WhyNot(); !slices.Equal(rivals, c.rivals) {
				t.Errorf("rivals %q, want %q", rivals, c.rivals)
			}
		})
	}
}

func TestWithdrawnHandsDoNotAgree(t *testing.T) {
	ann := Origin{Session: "s", Source: Hand, Author: "ann", At: noon}
	journal := withIDs(claimAt(1000, Hand, "ann", 2), claimAt(1000, Hand, "bo", 2), claimAt(1000, Plan, "", 1))
	journal = append(journal, Retraction(ann, "looked again", journal[0].ID))
	labels, _ := Resolve(journal, found(1000), Best, MatchNs())
	if got, want := labels[0].Why(), "single hand: bo, before plan"; got != want || len(labels[0].Rivals) != 1 {
		t.Errorf("why %q with %d rivals, want %q with one", got, len(labels[0].Rivals), want)
	}
}

func TestAgrees(t *testing.T) {
	deg := func(face int, b float64) Claim { return Claim{Face: face, BearingDeg: &b} }
	high := func(c Claim, m float64) Claim { c.HeightM = &m; return c }
	in := func(c Claim, band string) Claim { c.Band = band; return c }
	for _, c := range []struct {
		name string
		a, b Claim
		want bool
	}{
		{"same face", Claim{Face: 2}, Claim{Face: 2}, true},
		{"other face", Claim{Face: 2}, Claim{Face: 3}, false},
		{"either side of a seam", deg(1, 29), deg(2, 31), true},
		{"across the turn", deg(1, 350), deg(1, 10), true},
		{"far apart on one face", deg(1, 329), deg(1, 0), false},
		{"bearing beside a bare face", deg(2, 50), Claim{Face: 2}, true},
		{"no place", Claim{Kind: "hook"}, Claim{Kind: "hook"}, false},
		{"band alone is no place", Claim{Band: "low"}, Claim{Band: "low"}, false},
		{"other band", in(Claim{Face: 2}, "low"), in(Claim{Face: 2}, "mid"), false},
		{"near heights in two bands", high(in(Claim{Face: 2}, "low"), 0.34), high(in(Claim{Face: 2}, "mid"), 0.36), true},
		{"far heights", high(Claim{Face: 2}, 0.3), high(Claim{Face: 2}, 0.5), false},
		{"other kind", Claim{Face: 2, Kind: "hook"}, Claim{Face: 2, Kind: "tap"}, true},
		{"rejection and strike", Claim{NotStrike: true}, Claim{Face: 2}, false},
		{"rejections", Claim{NotStrike: true}, Claim{Complete: true}, true},
	} {
		if c.a.Agrees(c.b) != c.want || c.b.Agrees(c.a) != c.want {
			t.Errorf("%s: %v and %v, want %v", c.name, c.a.Agrees(c.b), c.b.Agrees(c.a), c.want)
		}
	}
}

// Counting is what comparing each with each says, on the limits too.
func TestAgreementsAreCounted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		claims := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Claim {
			c := claimAt(1000, rapid.SampledFrom([]string{Hand, Hand, Hand, Plan}).Draw(t, "source"), "", rapid.IntRange(0, 2).Draw(t, "face"))
			c.Band = rapid.SampledFrom([]string{"", "low", "mid"}).Draw(t, "band")
			c.NotStrike = rapid.IntRange(0, 9).Draw(t, "denies") == 0
			if rapid.Bool().Draw(t, "turned") {
				deg := float64(rapid.SampledFrom([]int{-15, 0, 15, 30, 45, 180, 210, 330, 345, 359, 360}).Draw(t, "deg"))
				c.BearingDeg = &deg
			}
			if rapid.Bool().Draw(t, "high") {
				m := float64(rapid.IntRange(0, 8).Draw(t, "height")) * agreeM / 3
				c.HeightM = &m
			}
			return c
		}), 0, 30).Draw(t, "claims")
		for i := range claims {
			claims[i].Author = fmt.Sprint(i)
		}
		got := agreements(claims)
		for i, c := range claims {
			if want := len(agreeing(c, claims)); got[i] != want {
				t.Fatalf("claim %d: %d agree, want %d: %+v", i, got[i], want, claims)
			}
		}
	})
}

// Of hands that all name a face and a band of their own, none is compared with each.
func TestManyWords(t *testing.T) {
	const n = 20_000
	deg, m := 10.0, 0.5
	var claims []Claim
	for i := range n {
		c := claimAt(1000, Hand, fmt.Sprint(i), 1+i)
		c.Band = fmt.Sprint("band ", i)
		if i%2 == 0 {
			c.BearingDeg, c.HeightM = &deg, &m
		}
		claims = append(claims, c)
	}
	for i, got := range agreements(claims) {
		if want := (1 - i%2) * (n/2 - 1); got != want {
			t.Fatalf("claim %d: %d agree, want %d", i, got, want)
		}
	}
}

// Of thousands of hands, a few are named.
func TestFewAreNamed(t *testing.T) {
	var claims []Claim
	for i := range 2000 {
		claims = append(claims, claimAt(1000, Hand, fmt.Sprintf("h%04d", i), 1))
	}
	labels, _ := Resolve(withIDs(claims...), found(1000), Best, MatchNs())
	want := "hands that agree: h0000, h0001, h0002, h0003, h0004, h0005, h0006, h0007, h0008, h0009 and 1990 more"
	if why := labels[0].Why(); why != want {
		t.Errorf("why %q, want %q", why, want)
	}
	for _, why := range labels[0].WhyNot() {
		if why != "one of the "+want {
			t.Fatalf("why not %q, want one of the %q", why, want)
		}
	}
}

func TestMissed(t *testing.T) {
	orphans := withIDs(claimAt(1000, Plan, "", 1), claimAt(1030, Timed, "", 2), claimAt(1040, Plan, "", 3), claimAt(2000, Hand, "ann", 4))
	got := Missed(orphans, MatchNs())
	var faces [][]int
	for _, l := range got {
		row := []int{l.Claim.Face}
		for _, r := range l.Rivals {
			row = append(row, r.Face)
		}
		faces = append(faces, row)
		if l.Strike != -1 {
			t.Errorf("strike %d, want -1", l.Strike)
		}
	}
	want := [][]int{{2, 1}, {3}, {4}}
	if !slices.EqualFunc(faces, want, slices.Equal) {
		t.Errorf("faces %v, want %v", faces, want)
	}
	if got, want := got[0].Why(), "timed truth, before plan; no strike was found here"; got != want {
		t.Errorf("why %q, want %q", got, want)
	}
}

// The order in which claims were written does not decide which one stands.
func TestResolveForgetsTheOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var claims []Claim
		for _, author := range []string{"ann", "bo", "cy", "di"} {
			c := claimAt(1000, rapid.SampledFrom([]string{Hand, Timed}).Draw(t, "source"), author, rapid.IntRange(0, 2).Draw(t, "face"))
			c.NotStrike = c.Face == 0
			c.At = noon.Add(time.Duration(rapid.IntRange(0, 1).Draw(t, "at")) * time.Hour)
			claims = append(claims, c)
		}
		claims = withIDs(claims...)
		ids := func(l Label) []string {
			out := []string{l.Claim.ID, l.Why()}
			for i, why := range l.WhyNot() {
				out = append(out, l.Rivals[i].ID, why)
			}
			return out
		}
		before, _ := Resolve(claims, found(1000), Best, MatchNs())
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		rng.Shuffle(len(claims), func(i, j int) { claims[i], claims[j] = claims[j], claims[i] })
		after, _ := Resolve(claims, found(1000), Best, MatchNs())
		if !slices.Equal(ids(before[0]), ids(after[0])) {
			t.Fatalf("%q, shuffled %q", ids(before[0]), ids(after[0]))
		}
	})
}

func TestAmend(t *testing.T) {
	ann := Origin{Session: "s", Source: Hand, Author: "ann", At: noon.Add(time.Hour)}
	journal := withIDs(claimAt(1000, Hand, "ann", 2), claimAt(1000, Hand, "bo", 2), claimAt(3000, Hand, "ann", 5))
	says := []Claim{{OnsetNs: 1e9, Face: 2}, {OnsetNs: 3.01e9, Face: 4}, {OnsetNs: 5e9, Face: 1}}
	fresh, outdated := Hold(journal).Amend(ann, says)
	if len(fresh) != 2 || outdated != 0 {
		t.Fatalf("%d fresh, %d outdated, want 2 and 0", len(fresh), outdated)
	}
	if !slices.Equal(fresh[0].Supersedes, []string{journal[2].ID}) || fresh[1].Supersedes != nil {
		t.Errorf("supersede %v and %v, want the claim at 3 s and nothing", fresh[0].Supersedes, fresh[1].Supersedes)
	}
	all := append(slices.Clone(journal), fresh...)
	if n := len(Standing(all)); n != 4 {
		t.Errorf("%d claims stand, want 4", n)
	}
	if again, _ := Hold(all).Amend(ann, says); len(again) != 0 {
		t.Errorf("said again, %d claims are added", len(again))
	}

	// A second strike close by is no correction of the first, said again.
	double := append(slices.Clone(says), Claim{OnsetNs: 1.04e9, Face: 1})
	if second, _ := Hold(all).Amend(ann, double); len(second) != 1 || second[0].Supersedes != nil {
		t.Errorf("a second strike close by: %v, want one claim that supersedes nothing", second)
	}

	// Older than what stands now, and withdrawn since: the later word stands.
	old := journal[2]
	if fresh, outdated = Hold(all).Amend(ann, []Claim{old}); len(fresh) != 0 || outdated != 1 {
		t.Errorf("superseded claim: %d fresh, %d outdated, want 0 and 1", len(fresh), outdated)
	}
	other := claimAt(3005, Hand, "ann", 6)
	if fresh, outdated = Hold(all).Amend(ann, []Claim{other}); len(fresh) != 0 || outdated != 1 {
		t.Errorf("older claim: %d fresh, %d outdated, want 0 and 1", len(fresh), outdated)
	}
	all = append(all, Retraction(ann, "", journal[0].ID))
	if fresh, outdated = Hold(all).Amend(ann, []Claim{journal[0]}); len(fresh) != 0 || outdated != 1 {
		t.Errorf("withdrawn claim: %d fresh, %d outdated, want 0 and 1", len(fresh), outdated)
	}
	if fresh, _ = Hold(all).Amend(ann, []Claim{{OnsetNs: 1e9, Face: 2}}); len(fresh) != 1 {
		t.Errorf("said anew after it was withdrawn: %d fresh, want 1", len(fresh))
	}
}
