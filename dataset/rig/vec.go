package rig

import "math"

// Vec is a vector in space. In the room's frame z points up, and x and y lie
// where bearings 90 and 0 do while the bag hangs untwisted; in the bag's frame
// z points up along the bag's axis, x to bearing 90 and y to bearing 0.
type Vec struct{ X, Y, Z float64 }

// Plus is the sum of two vectors.
func (a Vec) Plus(b Vec) Vec { return Vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }

// Minus is the difference of two vectors.
func (a Vec) Minus(b Vec) Vec { return Vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }

// Times is the vector, longer by a factor.
func (a Vec) Times(by float64) Vec { return Vec{a.X * by, a.Y * by, a.Z * by} }

// Dot is the scalar product.
func (a Vec) Dot(b Vec) float64 { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }

// Cross is the vector product.
func (a Vec) Cross(b Vec) Vec {
	return Vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// Norm is the length.
func (a Vec) Norm() float64 { return math.Sqrt(a.Dot(a)) }

// unit is the vector made one long.
func (a Vec) unit() Vec { return a.Times(1 / a.Norm()) }

// beside is the part of the vector across a unit vector.
func (a Vec) beside(unit Vec) Vec { return a.Minus(unit.Times(unit.Dot(a))) }

// plusTimes is a + by b.
func (a Vec) plusTimes(b Vec, by float64) Vec {
	return Vec{a.X + by*b.X, a.Y + by*b.Y, a.Z + by*b.Z}
}
