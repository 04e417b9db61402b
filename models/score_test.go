package models

import "testing"

// Shares and means of equal errors are what each is, however many there are: sums of
// 1/n are not.
func TestScoreDividesOnce(t *testing.T) {
	for n := 1; n <= 100; n++ {
		all := tried{base: base{name: "as it was", model: &Model{}}}
		for range n {
			all.missDeg, all.missM = append(all.missDeg, -180), append(all.missM, 0.1)
		}
		if got := all.trial().Score; got.Flips != 1 || got.BearingMAEDeg != 180 || got.Strikes != n || got.Form != "as it was" {
			t.Errorf("%d flips: %+v", n, got)
		}
	}
	half := tried{base: base{model: &Model{}}, missDeg: []float64{120, 121, -119, -150}, missM: []float64{0, -0.5, 0.5, 1}}
	if got, want := half.trial().Score, (Score{BearingMAEDeg: 127.5, HeightMAEM: 0.5, Flips: 0.5, Strikes: 4}); got != want {
		t.Errorf("two flips of four: %+v, want %+v", got, want)
	}
	if got := score("none", nil); got != (Score{Form: "none"}) {
		t.Errorf("no strikes: %+v", got)
	}
}
