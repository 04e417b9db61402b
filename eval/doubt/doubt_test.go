package doubt_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
	"strikerose/eval"
	"strikerose/eval/doubt"
	"strikerose/features"
	"strikerose/label"
	committed "strikerose/testdata/recordings"
)

func hall(t *testing.T) *rig.Rig {
	t.Helper()
	data, err := committed.Files.ReadFile("hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	r, err := rig.Parse(data, "hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// evenings are the two committed recordings, labelled by their plans.
func evenings(t *testing.T) *shelf {
	t.Helper()
	r, out := hall(t), newShelf()
	out.readPlanned(t, committed.Files, r, "monday", "monday.csv.zst", "monday-plan.csv")
	out.readPlanned(t, committed.Files, r, "friday", "friday.bin.zst", "friday-plan.csv")
	return out
}

// simulated are simulated sessions whose labels say face and band, as a plan
// would.
func simulated(t *testing.T, sessions, strikes int) *shelf {
	t.Helper()
	r, out := hall(t), newShelf()
	for k := range sessions {
		s, err := simulate.NewSession(simulate.Usual(r, strikes, uint64(k+1)))
		if err != nil {
			t.Fatal(err)
		}
		truth := s.Truth()
		out.put(t, dataset.Session{Name: fmt.Sprintf("s%d", k+1)}, r, s.Signal(), label.Plan, func(_ []*dataset.Window, found []dataset.Strike) []label.Claim {
			var claims []label.Claim
			onsets := make([]int64, len(found))
			for i, f := range found {
				onsets[i] = f.OnsetNs
			}
			times := make([]int64, len(truth))
			for i, x := range truth {
				times[i] = int64(x.TimeS * 1e9)
			}
			for _, pair := range label.MatchTimes(times, onsets, label.MatchNs()) {
				x := truth[pair[0]]
				claims = append(claims, label.Claim{OnsetNs: onsets[pair[1]], Source: label.Plan, Face: x.Face, Band: x.Band, Kind: x.Kind,
					BearingSDDeg: label.AimSDDeg, HeightSDM: label.AimSDM, PlanOrder: pair[0] + 1})
			}
			return claims
		})
	}
	return out
}

// change returns the shelf with the labels of one session changed by f, which
// is given the position of each.
func (s *shelf) change(session string, f func(i int, c *label.Claim)) *shelf {
	claims := map[string][]label.Claim{}
	for name, of := range s.claims {
		claims[name] = slices.Clone(of)
	}
	for i := range claims[session] {
		c := &claims[session][i]
		f(i, c)
		c.ID = c.ContentID()
	}
	return s.with(claims)
}

func TestFaultsOfEveningsAreFound(t *testing.T) {
	whole := evenings(t)
	for _, sensor := range []struct {
		name string
		s    *shelf
		ap   float64
	}{{"gyroscope", whole, 0.9}, {"accelerometer", whole.withoutGyro(), 0.5}} {
		t.Run(sensor.name, func(t *testing.T) {
			clean := find(t, sensor.s, options(t))
			if labels, others := alarms(clean); sensor.name == "gyroscope" && labels+others > 0 {
				t.Errorf("%d labels and %d other doubts among clean labels", labels, others)
			}
			f := spoil(sensor.s, faults{mirror: 0, slip: 1, length: 15, by: 1, share: 0.05, flips: 4, seed: 3})
			r := find(t, sensor.s.with(f.claims), options(t))
			if !foundMirror(r, f) {
				t.Errorf("the mirrored session: %+v", of(r, doubt.Mirrored))
			}
			if !foundSlip(r, f) {
				t.Errorf("the slip of %s, %d to %d: %+v", f.slipped, f.from, f.to, of(r, doubt.Slip))
			}
			if p := f.precision(r); p < sensor.ap {
				t.Errorf("average precision %.3f, want %.2f", p, sensor.ap)
			}
			if again := find(t, sensor.s.with(f.claims), options(t)); fmt.Sprintf("%+v", r) != fmt.Sprintf("%+v", again) {
				t.Error("the same labels give other doubts")
			}
		})
	}
}

func TestSlipsOfEitherWay(t *testing.T) {
	s := simulated(t, 2, 45)
	for _, by := range []int{1, -1, 2, -2} {
		f := spoil(s, faults{mirror: -1, slip: 1, length: 12, by: by, seed: 5})
		r := find(t, s.with(f.claims), options(t))
		got := of(r, doubt.Slip)
		if len(got) != 1 || got[0].By != by || got[0].OnsetNs != f.from || got[0].EndNs != f.to {
			t.Errorf("a slip by %d over %d to %d: %+v", by, f.from, f.to, got)
		}
	}
}

// A slip that begins early and never ends leaves most labels wrong, and no
// other session need be there to tell.
func TestSlipToTheEnd(t *testing.T) {
	for _, sessions := range []int{1, 2} {
		s := simulated(t, sessions, 60)
		before := s.claims["s1"]
		const from = 8
		slipped := s.change("s1", func(i int, c *label.Claim) {
			if i >= from && i+1 < len(before) {
				c.Face, c.Band = before[i+1].Face, before[i+1].Band
			}
		})
		r := find(t, slipped, options(t))
		got := of(r, doubt.Slip)
		if len(got) != 1 || got[0].By != 1 || got[0].OnsetNs < before[from].OnsetNs || got[0].Number > from+3 || got[0].EndNumber < len(before)-3 {
			t.Errorf("%d sessions, a slip from strike %d of %d on: %+v", sessions, from+1, len(before), got)
		}
		if n := len(of(r, doubt.Mirrored)) + len(of(r, doubt.Rotated)) + len(of(r, doubt.Turned)); n > 0 {
			t.Errorf("%d sessions: a slip passes for a turn: %+v", sessions, r.Doubts)
		}
	}
}

func TestSessionsThatCountOtherwise(t *testing.T) {
	s := simulated(t, 3, 25)
	onto := func(face func(f int) int) *shelf {
		return s.change("s2", func(_ int, c *label.Claim) { c.Face = face(c.Face) })
	}
	for _, c := range []struct {
		name  string
		face  func(f int) int
		kind  doubt.Kind
		sense int
		turn  float64
	}{
		{"from another face", func(f int) int { return (f+1)%6 + 1 }, doubt.Rotated, 1, -120},
		{"from the opposite face", func(f int) int { return (f+2)%6 + 1 }, doubt.Rotated, 1, 180},
		{"anticlockwise", func(f int) int { return (7-f)%6 + 1 }, doubt.Mirrored, -1, 0},
		{"anticlockwise from another face", func(f int) int { return (8-f)%6 + 1 }, doubt.Mirrored, -1, 60},
	} {
		r := find(t, onto(c.face), options(t))
		got := of(r, c.kind)
		if len(got) != 1 || got[0].Session != "s2" || got[0].Sense != c.sense || math.Abs(got[0].TurnDeg-c.turn) > 1e-9 {
			t.Errorf("%s: %+v", c.name, got)
			continue
		}
		for f := 1; f <= 6; f++ { // the mend gives back what was
			b := float64(c.sense)*bearing.FaceCentre(c.face(f), 6) + got[0].TurnDeg
			if back := bearing.FaceOf(b, 6); back != f {
				t.Errorf("%s: face %d is mended to %d", c.name, f, back)
			}
		}
		if labels, _ := alarms(r); labels > 0 {
			t.Errorf("%s: %d single labels are doubted beside", c.name, labels)
		}
	}
	t.Run("turned sensor", func(t *testing.T) {
		turned := s.change("s2", func(_ int, c *label.Claim) {
			b := bearing.Wrap360(bearing.FaceCentre(c.Face, 6) + 25)
			c.Face, c.BearingDeg = 0, &b
		})
		r := find(t, turned, options(t))
		got := of(r, doubt.Turned)
		if len(got) != 1 || math.Abs(got[0].TurnDeg-25) > 6 || got[0].Labels != 0 {
			t.Errorf("turned by 25 degrees: %+v", got)
		}
	})
}

func TestSingleLabels(t *testing.T) {
	s := simulated(t, 2, 40)
	at := func(n int, f func(c *label.Claim)) *shelf {
		return s.change("s1", func(i int, c *label.Claim) {
			if i == n {
				f(c)
			}
		})
	}
	otherBand := map[string]string{"low": "high", "mid": "low", "high": "low"}
	for _, c := range []struct {
		kind doubt.Kind
		do   func(c *label.Claim)
	}{
		{doubt.WrongFace, func(c *label.Claim) { c.Face = c.Face%6 + 1 }},
		{doubt.Opposite, func(c *label.Claim) { c.Face = (c.Face+2)%6 + 1 }},
		{doubt.WrongBand, func(c *label.Claim) { c.Band = otherBand[c.Band] }},
		{doubt.WrongBoth, func(c *label.Claim) { c.Face, c.Band = c.Face%6+1, otherBand[c.Band] }},
	} {
		changed := at(20, c.do)
		r := find(t, changed, options(t))
		was := s.claims["s1"][20]
		if len(r.Doubts) == 0 {
			t.Errorf("%s: no doubt", c.kind)
			continue
		}
		d := r.Doubts[0]
		if d.Kind != c.kind || d.OnsetNs != was.OnsetNs || d.Score < 0.7 || d.Predicted.Face != was.Face || d.Predicted.Band != was.Band {
			t.Errorf("%s of %d: %+v", c.kind, was.OnsetNs, d)
		}
	}
	t.Run("swapped", func(t *testing.T) {
		claims := s.claims["s1"]
		n := 10
		for claims[n].Face == claims[n+1].Face || claims[n].Band == claims[n+1].Band {
			n++
		}
		r := find(t, s.change("s1", func(i int, c *label.Claim) {
			switch i {
			case n:
				c.Face, c.Band = claims[n+1].Face, claims[n+1].Band
			case n + 1:
				c.Face, c.Band = claims[n].Face, claims[n].Band
			}
		}), options(t))
		if d := r.Doubts[0]; d.Kind != doubt.Swapped || d.OnsetNs != claims[n].OnsetNs || d.EndNs != claims[n+1].OnsetNs {
			t.Errorf("swapped: %+v", d)
		}
	})
	t.Run("part labels", func(t *testing.T) {
		part := s.change("s1", func(i int, c *label.Claim) {
			switch i % 3 {
			case 0:
				c.Face = 0
			case 1:
				c.Band = ""
			}
		})
		r := find(t, part, options(t))
		for _, j := range r.Judged {
			if !(j.Score >= 0 && j.Score <= 1) || j.Score > 0.5 {
				t.Errorf("a label that says only part, %+v", j)
			}
		}
	})
}

func TestLabelledOrRecordedTwice(t *testing.T) {
	s := simulated(t, 2, 25)
	claims := map[string][]label.Claim{"s1": slices.Clone(s.claims["s1"]), "s2": s.claims["s2"], "s3": nil}
	extra := claims["s1"][4]
	extra.OnsetNs += 20_000_000
	extra.ID = extra.ContentID()
	claims["s1"] = append(claims["s1"], extra)
	for _, c := range s.claims["s1"] {
		c.Session = "s3"
		c.ID = c.ContentID()
		claims["s3"] = append(claims["s3"], c)
	}
	twice := s.with(claims)
	twice.sessions = append(slices.Clone(s.sessions), dataset.Session{Name: "s3", Rig: s.sessions[0].Rig})
	twice.signals["s3"] = s.signals["s1"]
	r := find(t, twice, options(t))
	if got := of(r, doubt.Twice); len(got) != 1 || got[0].Session != "s1" || got[0].EndNs != extra.OnsetNs {
		t.Errorf("a strike labelled twice: %+v", got)
	}
	if got := of(r, doubt.SameSamples); len(got) != 1 || got[0].Session != "s3" || got[0].Labels != len(s.claims["s1"]) {
		t.Errorf("a session recorded twice: %+v", got)
	}
}

func TestShovesAndBlips(t *testing.T) {
	s := simulated(t, 2, 40)
	column := slices.IndexFunc(features.Columns(), func(c features.Column) bool { return c.Name == "contact_ms" })
	for _, c := range []struct {
		ms   float64
		kind doubt.Kind
	}{{120, doubt.NoStrike}, {0.5, doubt.NoStrike}} {
		d, err := eval.Examples(t.Context(), s, s.sessions, eval.JoinOptions{})
		if err != nil {
			t.Fatal(err)
		}
		d.Cases[7].Row[column] = c.ms
		r, err := doubt.Judge(t.Context(), d, options(t))
		if err != nil {
			t.Fatal(err)
		}
		got := of(r, c.kind)
		if len(got) != 1 || got[0].OnsetNs != d.Cases[7].Strike.OnsetNs {
			t.Errorf("a contact of %g ms: %+v", c.ms, got)
		}
	}
}

func TestNothingToJudge(t *testing.T) {
	s := simulated(t, 1, 5)
	if _, err := doubt.Find(t.Context(), s.with(map[string][]label.Claim{}), s.sessions, options(t)); err == nil {
		t.Error("no label at all is no error")
	}
	two := simulated(t, 2, 25)
	part := find(t, two.with(map[string][]label.Claim{"s1": two.claims["s1"]}), options(t))
	if len(part.Notes) != 1 || !strings.Contains(part.Notes[0], "session s2") {
		t.Errorf("a session without labels: %q", part.Notes)
	}
	o := options(t)
	o.Truth = "hearsay"
	if _, err := doubt.Find(t.Context(), s, s.sessions, o); err == nil {
		t.Error("an unknown truth is no error")
	}
	r := find(t, s, options(t)) // too few for the second opinion
	if len(r.Notes) != 1 || len(r.Judged) != r.Labels || r.Labels < 4 {
		t.Errorf("five labels: %+v", r)
	}
}
