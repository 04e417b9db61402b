package label

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

// labelled are claims about strikes at every half second by as many labellers as
// said, who name bearings and heights of their own.
func labelled(labellers, strikes int) []Claim {
	rng := rand.New(rand.NewPCG(1, 1))
	var out []Claim
	for k := range labellers {
		for i := range strikes {
			deg, height := 60*float64(i%6)+20*rng.NormFloat64(), 0.5+0.1*rng.NormFloat64()
			c := claimAt(int64(500*(i+1))+rng.Int64N(20), Hand, fmt.Sprintf("labeller-%d", k), 0)
			c.BearingDeg, c.HeightM, c.Band, c.At = &deg, &height, "mid", noon.Add(time.Duration(rng.IntN(1e6)))
			c.ID = c.ContentID()
			out = append(out, c)
		}
	}
	return out
}

// BenchmarkManyLabellers works out what thousands say of a few strikes.
//
//	go test ./label ./label/agree -run XX -bench ManyLabellers -benchtime 1x
func BenchmarkManyLabellers(b *testing.B) {
	const strikes = 5
	var times []int64
	for i := range strikes {
		times = append(times, int64(500*(i+1)))
	}
	for _, n := range []int{1250, 5000} {
		claims := labelled(n, strikes)
		b.Run(fmt.Sprintf("resolve/labellers=%d", n), func(b *testing.B) {
			for b.Loop() {
				Resolve(claims, found(times...), Best, MatchNs())
			}
		})
		b.Run(fmt.Sprintf("missed/labellers=%d", n), func(b *testing.B) {
			_, orphans := Resolve(claims, nil, Best, MatchNs())
			for b.Loop() {
				Missed(orphans, MatchNs())
			}
		})
		b.Run(fmt.Sprintf("reasons/labellers=%d", n), func(b *testing.B) {
			labels, _ := Resolve(claims, found(times...), Best, MatchNs())
			for b.Loop() {
				for _, l := range labels {
					l.Why()
					l.WhyNot()
				}
			}
		})
		b.Run(fmt.Sprintf("amend/labellers=%d", n), func(b *testing.B) {
			by := map[Origin][]Claim{}
			for _, c := range claims {
				o := Origin{"s", Hand, c.Author, noon}
				by[o] = append(by[o], c)
			}
			for b.Loop() {
				held := Hold(claims)
				for o, some := range by {
					held.Amend(o, some)
				}
			}
		})
	}
}
