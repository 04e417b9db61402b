package translatetest

// Sizes of the machine that State feeds, also for C.
const (
	Ring    = 5
	Weights = 3
)

// MachineWeights are its numbers.
func MachineWeights() []int16 { return []int16{3, -7, 1000} }

// State feeds a fresh machine.
func State(in, out *Words) {
	n := &numbers{weights: MachineWeights(), Kind: 1}
	m := &machine{numbers: n, ring: make([]int32, Ring), grid: make([][2]int16, Ring)}
	m.Feed(in, out)
}
