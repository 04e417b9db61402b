package models

// form is one way to correct bearings or heights.
type form struct {
	name      string
	terms     []string
	start     *Correction
	simulated bool // what simulated strikes taught
	others    bool // what other rigs taught
}

// formsFor lists the forms that a base may take, for bearings and for heights,
// simplest first.
func formsFor(b base, to Target) (bearings, heights []form, err error) {
	bearings, heights = []form{{name: FormYaw}}, []form{{name: FormYaw}}
	n := len(to.Own)
	// Trained again, it has learned from these strikes already; aims teach a yaw
	// and nothing else, see coarse.
	if b.again != nil || to.Board || n < leastToCorrect || coarse(to.Own) {
		return bearings, heights, nil
	}
	heights = append(heights, form{name: FormLine, terms: lineTerms()})
	var ofBearing, ofHeight []string
	for _, t := range corrections() {
		switch {
		case len(b.model.options.cut(t.features)) < len(t.features):
		case t.bearing:
			ofBearing = append(ofBearing, t.name)
		default:
			ofHeight = append(ofHeight, t.name)
		}
	}
	add := func(name string, start *Correction) {
		f := form{name: name, terms: ofHeight, start: start, simulated: name == FormSimulated, others: name == FormPooled}
		heights = append(heights, f)
		if n >= leastToTurn {
			f.terms = ofBearing
			bearings = append(bearings, f)
		}
	}
	add(FormTerms, nil)
	for _, from := range []struct {
		name string
		ex   []Example
	}{{FormPooled, to.Others}, {FormSimulated, to.Simulated}} {
		start, err := pooled(b.model.core, from.ex, ofBearing, ofHeight)
		if err != nil {
			return nil, nil, err
		}
		if start != nil {
			add(from.name, start)
		}
	}
	return bearings, heights, nil
}

// pooled is the mean of the corrections that rigs need, one by one, each by
// leastToTurn to mostPooled of its strikes; nil for none.
func pooled(c core, ex []Example, ofBearing, ofHeight []string) (*Correction, error) {
	byRig := map[string][]Example{}
	var keys []string
	for _, e := range ex {
		k := e.Rig.Key()
		if byRig[k] == nil {
			keys = append(keys, k)
		}
		byRig[k] = append(byRig[k], e)
	}
	var all []*Correction
	for _, k := range keys {
		n := len(byRig[k])
		if n < leastToTurn || coarse(byRig[k]) {
			continue
		}
		var some []Example
		for i := range min(n, mostPooled) {
			some = append(some, byRig[k][i*n/min(n, mostPooled)])
		}
		one, err := learnCorrection(answers(plain(c), some), ofBearing, ofHeight, nil)
		if err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	if len(all) == 0 {
		return nil, nil
	}
	mean := &Correction{BearingTerms: ofBearing, HeightTerms: ofHeight, BearingDeg: make([]float64, len(ofBearing)), HeightM: make([]float64, len(ofHeight))}
	for _, one := range all {
		for k, w := range one.BearingDeg {
			mean.BearingDeg[k] += w / float64(len(all))
		}
		for k, w := range one.HeightM {
			mean.HeightM[k] += w / float64(len(all))
		}
	}
	return mean, nil
}
