package models

// Replies is what a detector's core answers to examples together, and one by one.
func Replies(d Detector, ex []Example) (all, each []reply) {
	c := d.(*Model).core
	for _, e := range ex {
		var r reply
		r.q, r.heightM, r.told, r.whole = ask(c, e.Input)
		each = append(each, r)
	}
	return together(c, ex), each
}
