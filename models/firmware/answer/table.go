package answer

import "strikerose/features/chain/board"

// Kinds of detectors.
const (
	KindPeak  = 1 // against the largest push
	KindRatio = 2 // linear forms of stretches, and the height as a ratio of two
	KindNet   = 3 // nets on aligned features
	KindTree  = 4 // trees on aligned features
)

// Where the direction comes from that features are aligned with, and where an
// early answer does.
const (
	FromForms   = 1 // the linear forms
	FromAligned = 2 // a weighted sum of the aligned vectors themselves

	EarlyNone   = 0
	EarlyPeak   = 1
	EarlyKick   = 2 // against the sensor's velocity change
	EarlyCentre = 3 // against that of the centre of mass
)

// Linear forms, in the order of their weights. Each is a vector, in m/s or m times
// m/s, Q20.
const (
	formFirst  = 0 // direction u, by which odd and even scalars count
	formPush   = 1
	formTop    = 2
	formBottom = 3
	formKick   = 4 // velocity change of the sensor
	formCentre = 5 // of the centre of mass
	forms      = 6
)

// Sources of an aligned feature.
const (
	SourceAccel = 0 // horizontal accelerometer, a vector
	SourceRock  = 1 // horizontal rotation rate as the motion of points above, a vector
	SourceUp    = 2 // accelerometer along the bag
	SourceSpin  = 3 // rotation rate about the bag's axis
)

// Table holds the numbers of a detector on one rig.
type Table struct {
	Chain board.Table

	Kind      int32 // of the detector
	Direction int32 // where the aligned frame comes from
	Sooner    int32 // what the early answer is
	Sine      int32 // 1: the odd scalars are a sine, and turn the push by its angle
	Floats    int32 // 1 where the numbers in Reals answer, 0 where integers do
	HasHeight int32 // 1 where the forms give a height

	Yaw    int32 // added to every bearing: what labels taught, and how the mount is turned; binary angle, 2^32 is a turn
	Faces  int32
	Centre int32 // height of the centre of mass, Q4 mm
	Middle int32 // height stated where none is measured, Q4 mm
	Length int32 // of the bag, Q4 mm
	Wide   int32 // 1 where the stated interval is wider than a face: every bearing is unsure
	Weak   int32 // a smaller velocity change is unsure, Q20 m/s; of the largest push alone, 1/100 m/s2

	Pulse     board.Stretch // where the peak is looked for
	Quiet     board.Stretch // before the onset, whose mean is taken off
	Kick      board.Stretch // contact
	PeakScale int32         // 1/100 m/s2 of a count, Q12; below 2^15
	KickScale int32         // m/s, Q20, of a count in the sum over Kick, Q20 less the 4 bits of the sum

	FormShift int32           // sums of products with weights are Q20 after so many bits are dropped
	Floor     int32           // least denominator of the height over the size of the push, Q16
	Stretches []board.Stretch `c:"STRETCHES"`
	FormA     [][forms]int32  `c:"STRETCHES"` // weights of the accelerometer's vectors
	FormG     [][forms]int32  `c:"STRETCHES"` // weights of the rotation rate's
	FormZ     [][3]int32      `c:"STRETCHES"` // weights of the vertical accelerometer in push, top and bottom
	FormS     [][2]int32      `c:"STRETCHES"` // weights of the rotation rate about the bag's axis: in the push, and in the early one

	ItemShift int32
	Items     []Item  `c:"ITEMS"` // aligned: vectors first, then what changes its sign in a mirror, then the rest
	Vectors   int32   // so many of them are vectors
	Odd       int32   // so many change their sign
	First     []int32 `c:"ITEMS"`   // weights of the direction on the vectors, Q16
	Mean      []int32 `c:"ALIGNED"` // of an aligned feature, Q14
	Spread    []int32 `c:"ALIGNED"` // one over its standard deviation, Q12

	UnitUp     int32   // bits from a unit's sum to Q24
	Hidden     []int16 `c:"HIDDEN"` // weights of the units, one after the other
	HiddenBias []int32 `c:"UNITS"`
	OutSin     []int32 `c:"UNITS"` // Q20
	OutCos     []int32 `c:"UNITS"`
	OutHeight  []int32 `c:"UNITS"` // Q8 mm
	CosBias    int32
	HeightBias int32

	Roots [3]int32 // of the trees for sine, cosine and height
	Reals Reals    // the numbers of the float32 profile
	Nodes []Node   `c:"NODES"`
}

// Item is a feature to be aligned: a sum over one stretch, and the quiet one's,
// each with its weight; in usual sizes of it, Q16.
type Item struct {
	Weight  int32
	Quiet   int32
	Stretch int16
	Source  int16
}

// Node is one node of a tree; the trees stand in one list.
type Node struct {
	Feature   int16 // that it asks, -1 for a leaf
	Threshold int16 // Q12
	Below     int16 // where to go below it
	Other     int16 // where to go else
	Value     int16 // of a leaf: sine and cosine Q14, height Q4 mm
}
