package drift

// figure is one number of a whole session.
type figure struct {
	name, unit, doc string
	more, less      string
	// usual is the standard deviation between evenings on a bag that nobody
	// touched, relative ones as a share of the figure: round numbers, at least
	// what sessions of one rig differed by in simulated recordings.
	usual    float64
	relative bool
}

// figures lists what is compared of whole sessions. Rocking tells most: it goes
// with how far the filling has sunk and with how long the strap is.
func figures() []figure {
	const (
		sagged  = "the filling has moved, or the bag is heavier or hangs otherwise: measure its motion (rig tune), describe it as a new revision, and adapt the detector"
		slipped = "the sensor or the core has slipped along the bag: measure its depth, describe it as a new revision, and adapt the detector"
		leans   = "the core leans otherwise, or the sensor has tipped on it: straighten it, or describe it as a new revision"
	)
	return []figure{
		{"swing_hz", "Hz", "slow swing", "the bag swings faster: a shorter chain", "the bag swings more slowly: a longer chain", 0.01, true},
		{"rocking_hz", "Hz", "rocking", "the bag rocks faster: " + sagged,
			"the bag rocks more slowly: " + sagged, 0.005, true},
		{"twist_hz", "Hz", "twist", "the bag twists faster: hung otherwise, or its skin is lighter", "the bag twists more slowly: hung otherwise, or its skin is heavier", 0.01, true},
		{"lever_m", "m", "sensor below the bag's point of rest", slipped, slipped, 0.005, false},
		{"rest_x_deg", "deg", "lean at rest toward bearing 90", leans, leans, 0.3, false},
		{"rest_y_deg", "deg", "lean at rest toward bearing 0", leans, leans, 0.3, false},
	}
}
