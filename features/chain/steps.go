package chain

// Step describes one step of the chain.
type Step struct {
	Name, Doc    string
	DelaySamples int
	StateBytes   int
	OpsPerSample int
	Params       []Param
	Board        bool
}

// Param is one number that a step works with.
type Param struct {
	Name, Unit, Doc string
	Value           float64
}

// Steps describes the chain in the order in which a sample meets it.
func (c *Chain) Steps() []Step { return nil }
