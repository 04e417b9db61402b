package doubt_test

import (
	"fmt"
	"testing"

	"strikerose/eval/doubt"
)

// TestFindOnRecordings puts faults into the plan labels of the full simulated
// recordings: one session mirrored, a slip of one over 15 strikes, 5 % of the
// labels on another face and 10 on the opposite one. It prints what is found of
// them, and how many clean labels are doubted.
func TestFindOnRecordings(t *testing.T) {
	for _, r := range []struct {
		name    string
		folders []string
	}{{"A", []string{"A"}}, {"B", []string{"B0", "B1"}}, {"C", []string{"C"}}} {
		t.Run(r.name, func(t *testing.T) {
			whole := readFolders(t, recordingsFolder(t, r.folders...)...)
			for _, sensor := range []string{"gyroscope", "accelerometer"} {
				s := whole
				if sensor == "accelerometer" {
					s = whole.withoutGyro()
				}
				clean := find(t, s, options(t))
				labels, others := alarms(clean)
				fmt.Printf("rig %s, %s: %d clean labels: %.1f in 1000 scored above 0.5, %d other doubts\n", r.name, sensor, clean.Labels, 1000*float64(labels)/float64(clean.Labels), others)
				for _, o := range clean.Opinions {
					fmt.Printf("  %+v\n", o)
				}
				for _, d := range clean.Doubts {
					fmt.Printf("  %.3f %s %s %.3f %d: %s\n", d.Score, d.Kind, d.Session, float64(d.OnsetNs)/1e9, d.Labels, d.Reason)
				}
				sum := 0.0
				const rounds = 3
				for seed := range uint64(rounds) {
					f := spoil(s, faults{mirror: 1, slip: 2, length: 15, by: 1, share: 0.05, flips: 10, seed: seed})
					got := find(t, s.with(f.claims), options(t))
					p := f.precision(got)
					sum += p
					mirror, slip := foundMirror(got, f), foundSlip(got, f)
					fmt.Printf("  seed %d: mirror %t, slip %t, average precision %.3f\n", seed, mirror, slip, p)
					if sensor == "gyroscope" && (!mirror || !slip || p < 0.8) {
						t.Errorf("rig %s, seed %d: mirror %t, slip %t, average precision %.3f; want both exactly and 0.8", r.name, seed, mirror, slip, p)
						for _, d := range got.Doubts[:min(12, len(got.Doubts))] {
							t.Logf("%.3f %s %s %.3f-%.3f %d by %d: %s", d.Score, d.Kind, d.Session, float64(d.OnsetNs)/1e9, float64(d.EndNs)/1e9, d.Labels, d.By, d.Reason)
						}
						t.Logf("slip %s %.3f-%.3f", f.slipped, float64(f.from)/1e9, float64(f.to)/1e9)
					}
				}
				fmt.Printf("  mean average precision %.3f\n", sum/rounds)
			}
		})
	}
}

// foundMirror tells whether just the mirrored session was found, exactly.
func foundMirror(r *doubt.Report, f faulty) bool {
	m := of(r, doubt.Mirrored)
	return len(m) == 1 && m[0].Session == f.mirrored && m[0].Sense == -1 && m[0].TurnDeg == 0 && len(of(r, doubt.Rotated)) == 0
}

// foundSlip tells whether just the slip was found, from its first wrong label
// to its last.
func foundSlip(r *doubt.Report, f faulty) bool {
	s := of(r, doubt.Slip)
	return len(s) == 1 && s[0].Session == f.slipped && s[0].By == 1 && s[0].OnsetNs == f.from && s[0].EndNs == f.to
}
