package board

import "strikerose/features/chain/fixed"

// Stretch is a stretch of time after the onset, in samples: those at its ends
// count by the part of them that lies inside, Q8.
type Stretch struct {
	First, Last         int16
	FirstPart, LastPart int16 // of 256; LastPart is 0 where first and last are the same
}

// Vector holds the three parts of something in the bag's frame: x toward bearing
// 90, y toward bearing 0, z up; as far as the matrix of the Table turns it there.
type Vector struct{ X, Y, Z int32 }

// Samples is how long a stretch is, Q8.
func (s *Stretch) Samples() int32 {
	parts := int32(s.FirstPart) + int32(s.LastPart)
	if s.LastPart == 0 {
		return parts
	}
	return parts + 256*(int32(s.Last)-int32(s.First)-1)
}

// Accel sums the accelerometer over a stretch after the onset, the resting
// reading taken off, gravity with it, in the bag's frame: counts, Q4. Clipped
// readings of the contact are refilled.
func (c *Chain) Accel(s *Stretch) Vector {
	var v [axes]int32
	samples := s.Samples()
	for k := range int32(axes) {
		v[k] = fixed.SubSat32(c.total(s, k, false), fixed.Mul(c.restA(k), samples, 8))
	}
	return c.turnedA(&v)
}

// Gyro sums the gyroscope likewise.
func (c *Chain) Gyro(s *Stretch) Vector {
	t := c.table
	var v [axes]int32
	samples := s.Samples()
	for k := range int32(axes) {
		v[k] = fixed.SubSat32(c.total(s, k, true), fixed.Mul(c.restG(k), samples, 8))
	}
	if t.Turned == 0 {
		return c.upright(&v)
	}
	return Vector{X: row(&t.TurnG[0], &v), Y: row(&t.TurnG[1], &v), Z: row(&t.TurnG[2], &v)}
}

// total sums one axis over a stretch, Q4. A reading is below 2^17, refilled ones
// included, and a stretch has at most 1200 samples: the sum stays below 2^31.
func (c *Chain) total(s *Stretch, axis int32, gyro bool) int32 {
	sum := int32(0)
	for j := int32(s.First) + 1; j < int32(s.Last); j++ {
		sum += c.reading(c.onset+j, axis, gyro)
	}
	ends := int32(s.FirstPart) * c.reading(c.onset+int32(s.First), axis, gyro)
	if s.LastPart != 0 {
		ends += int32(s.LastPart) * c.reading(c.onset+int32(s.Last), axis, gyro)
	}
	return sum*16 + (ends >> 4)
}

func (c *Chain) reading(i int32, axis int32, gyro bool) int32 {
	if c.table.Gyro != 0 && gyro {
		return int32(c.g[c.place(i)][axis])
	}
	return c.unclipped(i, axis)
}

// restA is the resting reading of one axis of the accelerometer at the onset, Q4.
func (c *Chain) restA(axis int32) int32 {
	if c.table.Level != 0 && axis < accelChannels {
		return c.rest.at(axis, c.onset)
	}
	return c.table.ZeroA[axis]
}

// restG is that of the gyroscope.
func (c *Chain) restG(axis int32) int32 {
	if c.table.Level != 0 {
		return c.rest.at(accelChannels+axis, c.onset)
	}
	return c.table.ZeroG[axis]
}

// at returns the level known at reading i, which may lie up to a block back.
func (r *rest) at(k int32, i int32) int32 {
	if i < r.since {
		return r.last[k]
	}
	return r.now[k]
}

// turnedA turns a vector of the accelerometer from the sensor's axes to the bag's.
// Where that is a turn about the bag's axis alone it is left to the bearing at the
// end.
func (c *Chain) turnedA(v *[axes]int32) Vector {
	t := c.table
	if t.Turned == 0 {
		return c.upright(v)
	}
	return Vector{X: row(&t.TurnA[0], v), Y: row(&t.TurnA[1], v), Z: row(&t.TurnA[2], v)}
}

// upright lets the third axis point up.
func (c *Chain) upright(v *[axes]int32) Vector {
	return Vector{X: v[0], Y: v[1], Z: v[axisUp] * c.table.Upright}
}

func row(m, v *[axes]int32) int32 {
	return fixed.Sat32(fixed.Round64(int64(m[0])*int64(v[0])+int64(m[1])*int64(v[1])+int64(m[2])*int64(v[2]), 14))
}

// Peak finds the largest push across the bag in a stretch, the mean of another
// taken off: counts, Q4, in the bag's frame. It is 0 where nothing moves.
func (c *Chain) Peak(s, before *Stretch) Vector {
	var base, peak [axes]int32
	samples := before.Samples() / 16
	if samples <= 0 {
		samples = 1
	}
	for k := range int32(axes) {
		base[k] = c.total(before, k, false) * 16 / samples // 20 ms are below 2^31
	}
	most := uint64(0)
	for j := c.onset + int32(s.First); j <= c.onset+int32(s.Last); j++ {
		var v [axes]int32
		for k := range int32(axes) {
			v[k] = c.unclipped(j, k)*16 - base[k]
		}
		now := uint64(int64(v[0])*int64(v[0])) + uint64(int64(v[1])*int64(v[1]))
		if now > most {
			most = now
			for k := range int32(axes) {
				peak[k] = v[k]
			}
		}
	}
	return c.turnedA(&peak)
}

// Across is the vector's length across the bag to within 1.4 %; each part is below
// 2^29.
func (v *Vector) Across() int32 { return size(v.X, v.Y) }
