package models

// reply is what a core answers for one strike, with its doubt.
type reply struct {
	q       complex128
	heightM float64
	told    doubt
	whole   bool
}

// throng is a core that answers many strikes sooner together than one by one: the
// same, to the last bit.
type throng interface {
	core
	answers(in []Input) []reply
}

// alone is a throng's answer for one strike.
func alone(c throng, in Input) (q complex128, heightM float64, whole bool) {
	r := c.answers([]Input{in})[0]
	return r.q, r.heightM, r.whole
}

// together gets a core's answer for each of the examples, with its doubt.
func together(c core, ex []Example) []reply {
	in := make([]Input, len(ex))
	for i, e := range ex {
		in[i] = e.Input
	}
	if t, ok := c.(throng); ok {
		return t.answers(in)
	}
	out := make([]reply, len(in))
	for i, r := range in {
		out[i].q, out[i].heightM, out[i].told, out[i].whole = ask(c, r)
	}
	return out
}
