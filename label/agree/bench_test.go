package agree

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/label"
)

// BenchmarkManyLabellers lays side by side, and compares, what thousands say of a
// few strikes.
//
//	go test ./label ./label/agree -run XX -bench ManyLabellers -benchtime 1x
func BenchmarkManyLabellers(b *testing.B) {
	const strikes = 5
	for _, n := range []int{1250, 5000} {
		rng := rand.New(rand.NewPCG(1, 1))
		s := Session{Name: "monday", Rig: datasettest.Rig(b)}
		for i := range strikes {
			s.Strikes = append(s.Strikes, dataset.Strike{Number: i + 1, OnsetNs: int64(i+1) * 5e8})
			for k := range n {
				s.Claims = append(s.Claims, label.Claim{ID: fmt.Sprint(i, k), Session: "monday", OnsetNs: int64(i+1)*5e8 + rng.Int64N(2e7), Source: label.Hand,
					Author: fmt.Sprintf("labeller-%d", k), At: time.Unix(0, 0), Face: 1 + (i+rng.IntN(2))%6, Band: "mid"})
			}
		}
		b.Run(fmt.Sprintf("collect/labellers=%d", n), func(b *testing.B) {
			for b.Loop() {
				if _, err := Collect([]Session{s}, label.MatchNs()); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("report/labellers=%d", n), func(b *testing.B) {
			r, err := Collect([]Session{s}, label.MatchNs())
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				if _, err := r.Report(b.Context(), Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
