package onset

// Stretches around the onset by which a shove is told from a strike.
const (
	tailBaseFromMs, tailBaseToMs = 30, 4  // before the onset: the reading that is taken off
	tailPushFromMs, tailPushToMs = 2, 18  // after it: the push of a strike
	tailFromMs, tailToMs         = 28, 44 // when a strike's is over
)

// tailOf returns how much of the push is left when a strike's would be over.
func (e *event) tailOf() float64 {
	stretch := func(fromMs, toMs float64) [3]float64 {
		return e.sums.mean(e.onset+samples(fromMs, e.p.RateHz), e.onset+samples(toMs, e.p.RateHz)+1)
	}
	base := stretch(-tailBaseFromMs, -tailBaseToMs)
	early, late := stretch(tailPushFromMs, tailPushToMs), stretch(tailFromMs, tailToMs)
	var dot, size float64
	for k := range 2 {
		a, b := early[k]-base[k], late[k]-base[k]
		dot += float64(a * b)
		size += float64(a * a)
	}
	if size == 0 {
		return 0
	}
	return dot / size
}

// decide measures, mends where it must, and applies the rules. strikeSize is
// the short difference of the last strike, and snatchable tells whether it is
// recent enough for the chain to snatch.
func (e *event) decide(strikeSize float64, snatchable bool) Verdict {
	e.nMends, e.mended = 0, [2]Run{}
	e.measure()
	for e.raw > blipRatio*e.short && e.nMends < len(e.mended) {
		n := e.nMends
		e.mend()
		if e.nMends == n {
			break
		}
		e.measure()
	}
	e.place()
	e.tail = e.tailOf()
	switch {
	case e.raw > blipRatio*e.short || e.short < e.level:
		return Blip
	case e.short < swingRatio*e.long:
		return Swing
	case e.short < e.long && e.short < e.p.ShoveMPS2 && e.tail > shoveTail:
		return Shove
	case snatchable && e.vertical > snatchVertical*e.short && e.short < snatchSize*strikeSize:
		return Snatch
	}
	return Strike
}
