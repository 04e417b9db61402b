package drift

import (
	"math"

	"strikerose/features"
	"strikerose/models"
	"strikerose/models/physics"
)

// What a number tells of.
const (
	OfStrikes = "strikes" // how the bag is struck: the bag may be as it was
	OfBag     = "bag"     // the bag, its hanging, or the sensor in it
)

// number is one number of a strike.
type number struct {
	name, unit, doc string
	of              string
	more, less      string // what it means to be larger or smaller than in training; "" for nothing to tell
	value           func(strike) float64
}

// strike is what a number may read.
type strike struct {
	row   features.Row
	place physics.Place
}

// numbers lists what is compared of strikes. None changes when the mount is
// turned or a strike lands on another face.
func numbers() []number {
	scalar := func(name string) func(strike) float64 {
		return func(s strike) float64 { return s.row.Scalar(name) }
	}
	size := func(name string) func(strike) float64 {
		return func(s strike) float64 { return math.Abs(s.row.Scalar(name)) }
	}
	return []number{
		{"impulse_ns", "N s", "push of a strike, by the fit of the bag's motion", OfStrikes,
			"strikes are harder", "strikes are weaker",
			func(s strike) float64 { return s.place.ImpulseNs }},
		{"height_m", "m", "height of a strike, by the fit of the bag's motion", OfStrikes,
			"strikes land higher", "strikes land lower",
			func(s strike) float64 { return s.place.HeightM }},
		{"contact_ms", "ms", "width of the push", OfStrikes,
			"contacts last longer: softer gloves, another blow, or a softer filling", "contacts are shorter: harder gloves, another blow, or a harder filling",
			scalar("contact_ms")},
		{"oblique_deg", "deg", "by how much a push passes the axis", OfStrikes,
			"more strikes are hooks", "fewer strikes are hooks",
			func(s strike) float64 { return math.Abs(s.place.ObliqueDeg) }},
		{"vertical_ratio", "", "vertical over horizontal push", OfStrikes,
			"more strikes go up or down", "fewer strikes go up or down",
			size("vertical_ratio")},
		{"swing_before_mps2", "m/s2", "earlier swing when a strike lands", OfStrikes,
			"the bag swings more when it is struck", "the bag swings less when it is struck",
			scalar("swing_before")},
		// Errors of the model grow with the push.
		{"misfit_per_ns", "1/N s", "how badly the bag's own motion, by the rig file, fits a strike, over its push", OfBag,
			"the bag moves less as its rig file says than it did", "",
			func(s strike) float64 { return s.place.Misfit / s.place.ImpulseNs }},
	}
}

// spreadsOf returns the spread of each number over strikes.
func spreadsOf(strikes []strike) []models.SeenSpread {
	var out []models.SeenSpread
	for _, n := range numbers() {
		var values []float64
		for _, s := range strikes {
			if v := n.value(s); !math.IsNaN(v) && !math.IsInf(v, 0) {
				values = append(values, v)
			}
		}
		if len(values) > 0 {
			out = append(out, spreadOf(n.name, values))
		}
	}
	return out
}
