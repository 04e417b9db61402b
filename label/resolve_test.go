package label

import (
	"testing"
	"time"

	"strikerose/dataset"
)

func found(onsetsMs ...int64) []dataset.Strike {
	var out []dataset.Strike
	for i, ms := range onsetsMs {
		out = append(out, dataset.Strike{Number: i + 1, OnsetNs: ms * 1e6})
	}
	return out
}

func claimAt(ms int64, source, author string, face int) Claim {
	return Claim{Session: "s", OnsetNs: ms * 1e6, Source: source, Author: author, At: noon, Face: face}
}

func TestResolve(t *testing.T) {
	type want struct {
		face      int // of the preferred claim, 0 for no claim
		rivals    int
		notStrike bool
	}
	denied := claimAt(3000, Hand, "jo", 0)
	denied.NotStrike = true
	later := claimAt(1003, Hand, "al", 5)
	later.At = noon.Add(time.Hour)
	complete := Claim{Session: "s", Source: Timed, At: noon, Complete: true}
	part := Claim{Session: "s", OnsetNs: 900e6, EndNs: 1500e6, Source: Timed, At: noon, Complete: true}
	for _, c := range []struct {
		name    string
		claims  []Claim
		prefer  string
		want    []want // of finds at 1000, 2000 and 3000 ms
		orphans []int  // faces
	}{
		{"nothing", nil, Best, []want{{}, {}, {}}, nil},
		{"timed before hand before plan", []Claim{claimAt(1000, Plan, "", 1), claimAt(1010, Hand, "jo", 2), claimAt(995, Timed, "", 3),
			claimAt(2000, Plan, "", 1), claimAt(2020, Hand, "jo", 2), claimAt(3000, Plan, "", 1)}, Best,
			[]want{{3, 2, false}, {2, 1, false}, {1, 0, false}}, nil},
		{"one source alone", []Claim{claimAt(1000, Plan, "", 1), claimAt(1010, Hand, "jo", 2), claimAt(995, Timed, "", 3)}, Plan,
			[]want{{1, 0, false}, {}, {}}, nil},
		{"the latest of two people", []Claim{later, claimAt(1000, Hand, "jo", 2)}, Best, []want{{5, 1, false}, {}, {}}, nil},
		{"denied by hand", []Claim{claimAt(3000, Plan, "", 1), denied}, Best, []want{{}, {}, {0, 1, true}}, nil},
		{"denied by hand, but the plan is asked", []Claim{claimAt(3000, Plan, "", 1), denied}, Plan, []want{{}, {}, {1, 0, false}}, nil},
		{"complete", []Claim{complete, claimAt(1000, Timed, "", 4), claimAt(2000, Plan, "", 1)}, Best,
			[]want{{4, 0, false}, {0, 1, true}, {0, 0, true}}, nil},
		{"complete in part", []Claim{part, claimAt(2000, Timed, "", 4)}, Best, []want{{0, 0, true}, {4, 0, false}, {}}, nil},
		{"complete of another source", []Claim{complete, claimAt(2000, Plan, "", 1)}, Plan, []want{{}, {1, 0, false}, {}}, nil},
		{"missed", []Claim{claimAt(1051, Timed, "", 6), claimAt(2500, Plan, "", 2)}, Best, []want{{}, {}, {}}, []int{6, 2}},
		{"one to one", []Claim{claimAt(990, Timed, "", 1), claimAt(1005, Timed, "", 2)}, Best, []want{{2, 0, false}, {}, {}}, []int{1}},
		{"unknown preference", []Claim{claimAt(1000, Plan, "", 1)}, "luck", []want{{}, {}, {}}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			strikes := found(1000, 2000, 3000)
			labels, orphans := Resolve(withIDs(c.claims...), strikes, c.prefer, MatchNs())
			for i, w := range c.want {
				l := labels[i]
				face := 0
				if l.Claim != nil {
					face = l.Claim.Face
				}
				if l.Strike != i || face != w.face || len(l.Rivals) != w.rivals || l.NotStrike != w.notStrike {
					t.Errorf("strike %d: face %d, %d rivals, not a strike %v; want %+v", i, face, len(l.Rivals), l.NotStrike, w)
				}
			}
			var faces []int
			for _, o := range orphans {
				faces = append(faces, o.Face)
			}
			if len(faces) != len(c.orphans) {
				t.Fatalf("orphans %v, want %v", faces, c.orphans)
			}
			for i := range faces {
				if faces[i] != c.orphans[i] {
					t.Errorf("orphans %v, want %v", faces, c.orphans)
				}
			}
		})
	}
}

func TestResolveLeavesOutSuperseded(t *testing.T) {
	o := Origin{Session: "s", Source: Hand, Author: "jo", At: noon}
	journal := Revise(nil, o, []Claim{{OnsetNs: 1e9, Face: 1}})
	journal = append(journal, Revise(journal, o, []Claim{{OnsetNs: 1e9, Face: 2}})...)
	labels, orphans := Resolve(journal, found(1000), Best, MatchNs())
	if labels[0].Claim == nil || labels[0].Claim.Face != 2 || len(labels[0].Rivals) != 0 || len(orphans) != 0 {
		t.Errorf("label %+v, orphans %v, want face 2 alone", labels[0], orphans)
	}
}
