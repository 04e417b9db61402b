package fixed

// Angles by CORDIC (Volder, The CORDIC trigonometric computing technique, IRE
// Transactions on Electronic Computers, 1959): turns by arctangents of powers of
// two need shifts and sums alone. 20 of them leave at most 0.00011 degrees open.
// The cubic arctangent of Rajan and others needs a division and leaves 0.086.

// turns are the arctangents of 2^-i, as binary angles.
var turns = [20]int32{
	536870912, 316933406, 167458907, 85004756, 42667331, 21354465, 10679838, 5340245, 2670163, 1335087,
	667544, 333772, 166886, 83443, 41722, 20861, 10430, 5215, 2608, 1304,
}

// A row of turns lengthens a vector by 1.646760258.
const (
	shortenQ31 = 1304065748 // 1/1.646760258
	startQ30   = 652032874
)

const halfTurn = uint32(1) << 31

// Vector has two parts of one unit; what they point to is up to the caller.
type Vector struct{ X, Y int32 }

// Atan2 is the binary angle of a vector from the x axis toward y, to 0.0002
// degrees for vectors of any length. Of the zero vector it is 0; straight back
// it is -180 degrees.
func Atan2(y, x int32) int32 {
	right := Size32(x)
	up := Size32(y)
	bits := Bits32(right | up)
	if bits == 0 {
		return 0
	}
	// Into the first quadrant, and to 29 bits: there is room for the lengthening
	// and little is lost by the shifts.
	if bits > 29 {
		right >>= (bits - 29) & 31
		up >>= (bits - 29) & 31
	} else {
		right <<= (29 - bits) & 31
		up <<= (29 - bits) & 31
	}
	along := int32(right)
	across := int32(up)
	angle := int32(0)
	for i := range turns {
		step := along >> i
		if across >= 0 {
			along += across >> i
			across -= step
			angle += turns[i]
		} else {
			along -= across >> i
			across += step
			angle -= turns[i]
		}
	}
	if x < 0 {
		angle = int32(halfTurn - uint32(angle))
	}
	if y < 0 {
		angle = int32(0 - uint32(angle))
	}
	return angle
}

// Decideg is a binary angle in tenths of a degree, 0 to 3599, to the nearest.
func Decideg(angle int32) int32 {
	tenths := int32((uint64(uint32(angle))*3600 + 1<<31) >> 32)
	if tenths == 3600 {
		return 0
	}
	return tenths
}

// Turn turns a vector anticlockwise (x toward y) by a binary angle. The
// result's error is below 2 units and 4 millionths of the length. The vector is
// shorter than 2^30.
func Turn(v Vector, angle int32) Vector {
	bits := Bits32(Size32(v.X) | Size32(v.Y))
	up := uint32(0)
	if bits < 29 {
		up = 29 - bits
	}
	x := int32(uint32(v.X) << (up & 31))
	y := int32(uint32(v.Y) << (up & 31))
	out := spin(x, y, angle)
	out.X = Round32(Mul(out.X, shortenQ31, 31), up)
	out.Y = Round32(Mul(out.Y, shortenQ31, 31), up)
	return out
}

// SinCos is the unit vector at a binary angle in Q30: X the cosine, Y the
// sine, to 0.000004.
func SinCos(angle int32) Vector { return spin(startQ30, 0, angle) }

// spin turns a vector shorter than 2^30 and lengthens it as turns do.
func spin(x, y, angle int32) Vector {
	if angle > 1<<30 || angle < -1<<30 { // past a quarter turn: from the other side
		angle = int32(uint32(angle) - halfTurn)
		x = -x
		y = -y
	}
	for i := range turns {
		step := x >> i
		if angle >= 0 {
			x -= y >> i
			y += step
			angle -= turns[i]
		} else {
			x += y >> i
			y -= step
			angle += turns[i]
		}
	}
	return Vector{X: x, Y: y}
}
