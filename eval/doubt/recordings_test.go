package doubt_test

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/eval/doubt"
	"strikerose/label/truth"
)

// TestFindOnRecordings puts faults into the plan labels of the full simulated
// recordings: one session mirrored, a slip of one over 15 strikes, 5 % of the
// labels on another face and 10 on the opposite one. It prints what is found of
// them, and how many labels are doubted without such faults; a few of those are
// wrong all the same, as timed truth tells: strikes that were in no plan.
func TestFindOnRecordings(t *testing.T) {
	for _, r := range []struct {
		name    string
		folders []string
	}{{"A", []string{"A"}}, {"B", []string{"B0", "B1"}}, {"C", []string{"C"}}} {
		t.Run(r.name, func(t *testing.T) {
			folders := recordingsFolder(t, r.folders...)
			whole := readFolders(t, folders...)
			known := contradicted(t, whole, folders)
			for _, sensor := range []string{"gyroscope", "accelerometer"} {
				s := whole
				if sensor == "accelerometer" {
					s = whole.withoutGyro()
				}
				must := sensor == "gyroscope"
				clean := find(t, s, options(t))
				wrong, right := 0, 0
				for _, j := range clean.Judged {
					switch {
					case j.Score <= 0.5:
					case known[j.Session][j.OnsetNs]:
						wrong++
					default:
						right++
					}
				}
				n := 0
				for _, of := range known {
					n += len(of)
				}
				_, others := alarms(clean)
				alarmed := 1000 * float64(right) / float64(clean.Labels-n)
				t.Logf("rig %s, %s: %d labels, no fault put in: %.1f of 1000 right ones score above 0.5, and %d of %d that timed truth contradicts; %d other doubts above 0.5, %d below",
					r.name, sensor, clean.Labels, alarmed, wrong, n, others, len(of(clean, doubt.OddWindow))+len(of(clean, doubt.NoStrike)))
				if must && (alarmed > 5 || others > 0) {
					t.Errorf("rig %s: too many false alarms", r.name)
				}
				const rounds = 5
				sum, mirrors, slips := 0.0, 0, 0
				for seed := range uint64(rounds) {
					f := spoil(s, faults{mirror: 1, slip: 2, length: 15, by: 1, share: 0.05, flips: 10, seed: seed})
					for session, of := range known {
						for onset := range of {
							f.wrong[session][onset] = doubt.WrongBoth
						}
					}
					got := find(t, s.with(f.claims), options(t))
					sum += f.precision(got)
					if foundMirror(got, f) {
						mirrors++
					}
					if foundSlip(got, f) {
						slips++
					}
				}
				t.Logf("rig %s, %s: faults put in %d times: exactly found %d mirrored sessions and %d slips, mean average precision %.3f of single wrong labels",
					r.name, sensor, rounds, mirrors, slips, sum/rounds)
				if must && (mirrors < rounds || slips < rounds || sum/rounds < 0.8) {
					t.Errorf("rig %s: not all is found", r.name)
				}
			}
		})
	}
}

// contradicted tells which labels lie by more than 45 degrees, or by more than
// the width of a band, from the timed truth.
func contradicted(t *testing.T, s *shelf, folders []string) map[string]map[int64]bool {
	t.Helper()
	out := map[string]map[int64]bool{}
	for _, session := range s.sessions {
		out[session.Name] = map[int64]bool{}
		folder, base, _ := strings.Cut(session.Name, "-")
		var entries []truth.Entry
		for _, dir := range folders {
			if filepath.Base(dir) != folder {
				continue
			}
			for _, row := range datasettest.Rows(t, filepath.Join(dir, "truth", base+"_truth.csv")) {
				if row["in_gap"] != "1" {
					entries = append(entries, truth.Entry{TimeS: row.Number(t, "t_s"), BearingDeg: row.Number(t, "bearing_on_bag_deg"), HeightM: row.Number(t, "height_m")})
				}
			}
		}
		r := s.rigs[session.Rig]
		placed, err := truth.Match(t.Context(), entries, s.onsets[session.Name], truth.Epochs(s.signals[session.Name], session.RawPerSecond))
		if err != nil {
			t.Fatal(err)
		}
		landed := map[int64]truth.Entry{}
		for _, pair := range placed.Pairs {
			landed[s.onsets[session.Name][pair.Onset]] = entries[pair.Entry]
		}
		for _, c := range s.claims[session.Name] {
			p := c.PlaceOn(r)
			if at, ok := landed[c.OnsetNs]; ok && (math.Abs(bearing.Diff(p.BearingDeg, at.BearingDeg)) > 45 || math.Abs(p.HeightM-at.HeightM) > r.Bag.LengthM/3) {
				out[session.Name][c.OnsetNs] = true
			}
		}
	}
	return out
}
