package answer

// New makes a detector with its memory. The table must stay as it is.
func New(t *Table, ring int) *Detector {
	d := &Detector{table: t}
	d.work = frame{x: make([]int32, len(t.Items)), y: make([]int32, len(t.Items)), feature: make([]int16, len(t.Mean))}
	d.workF = floatFrame{x: make([]float32, len(t.Items)), y: make([]float32, len(t.Items)), feature: make([]float32, len(t.Mean))}
	d.chain.Make(&t.Chain, ring)
	d.Start()
	return d
}

// Fresh tells whether the newest sample began a segment.
func (d *Detector) Fresh() bool { return d.chain.Fresh() }
