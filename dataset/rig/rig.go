// Package rig describes one bag: its sizes, how it hangs, what fills it, and
// where and how the sensor sits in it. It reads the rig file (TOML, strict)
// and holds plain geometry. It imports nothing else of the project but the
// angle arithmetic of dataset/bearing and the quoting of dataset/shell.
package rig

import (
	"fmt"
	"math"

	"strikerose/dataset/bearing"
)

// Rig is one revision of one rig. Depths are metres below the bag's top edge,
// heights metres above its bottom edge.
type Rig struct {
	Name        string       `toml:"name" json:"name"`                         // letters, digits and dashes, shared by all revisions
	Revision    int          `toml:"revision" json:"revision"`                 // number that rises with every change of bag, core, hanging or sensor, at least 0
	Faces       int          `toml:"faces" json:"faces"`                       // how many equal sectors there are, numbered clockwise from 1, at least 1
	Bands       []Band       `toml:"bands" json:"bands"`                       // ranges of heights, from the bottom up
	Bag         Bag          `toml:"bag" json:"bag"`                           // the outside
	Core        *Core        `toml:"core" json:"core,omitempty"`               // dense part along the axis; absent where there is none
	Hang        Hang         `toml:"hang" json:"hang"`                         // what it hangs from
	Sensor      Sensor       `toml:"sensor" json:"sensor"`                     // where the sensor sits and what it reads
	Motion      *Motion      `toml:"motion" json:"motion,omitempty"`           // free motion as measured (rig tune); absent where it was not
	Calibration *Calibration `toml:"calibration" json:"calibration,omitempty"` // what corrects the sensor's readings (rig calibrate); absent where nothing does
	Log         LogHint      `toml:"log" json:"log"`                           // how the board writes its logs
}

// Band is a named range of heights that ends at ToM; the last one ends at the
// bag's top and gives none.
type Band struct {
	Name string `toml:"name" json:"name"` // what the band is called
	// ToM is where it ends, metres above the bag's bottom edge, above 0; absent for the
	// last, which ends at the bag's top.
	ToM float64 `toml:"to_m,omitempty" json:"to_m,omitempty"`
}

// Bag is the outside: total mass, and the cylinder's sizes.
type Bag struct {
	MassKg             float64  `toml:"mass_kg" json:"mass_kg"`                                                   // mass of the whole bag, core and all, kilograms, above 0
	LengthM            float64  `toml:"length_m" json:"length_m"`                                                 // metres from its top edge to its bottom edge, above 0
	DiameterM          float64  `toml:"diameter_m" json:"diameter_m"`                                             // outer diameter, metres, above 0
	CoverMassKg        float64  `toml:"cover_mass_kg,omitempty" json:"cover_mass_kg,omitempty"`                   // mass of the skin, a shell at the outside, kilograms, at least 0; absent where not stated
	CentreOfMassDepthM *float64 `toml:"centre_of_mass_depth_m,omitempty" json:"centre_of_mass_depth_m,omitempty"` // centre of mass, metres below the bag's top edge; absent where it follows from core and filling
	// RadiusOfGyrationM is the radius of gyration about the centre of mass, metres, above 0;
	// absent where it follows from core and filling.
	RadiusOfGyrationM *float64 `toml:"radius_of_gyration_m,omitempty" json:"radius_of_gyration_m,omitempty"`
}

// Core is the dense part along the axis, included in the bag's mass.
type Core struct {
	MassKg    float64 `toml:"mass_kg" json:"mass_kg"`         // kilograms, part of the bag's mass, above 0
	LengthM   float64 `toml:"length_m" json:"length_m"`       // metres along the axis, above 0
	DiameterM float64 `toml:"diameter_m" json:"diameter_m"`   // metres across, above 0
	TopDepthM float64 `toml:"top_depth_m" json:"top_depth_m"` // its upper end, metres below the bag's top edge
}

// Hang is the suspension: swivel to lower pivot, lower pivot to bag top.
type Hang struct {
	ChainM      float64 `toml:"chain_m" json:"chain_m"`                                 // metres from the swivel to the lower pivot, above 0
	StrapM      float64 `toml:"strap_m" json:"strap_m"`                                 // metres from the lower pivot to the bag's top edge, at least 0
	ChainMassKg float64 `toml:"chain_mass_kg,omitempty" json:"chain_mass_kg,omitempty"` // mass of the chain, kilograms, at least 0; absent where it is left out of account
}

// Sensor is where the sensor sits, how it is turned, and what it can read.
// GyroRangeDPS is 0 where there is no gyroscope.
type Sensor struct {
	DepthM        float64 `toml:"depth_m" json:"depth_m"`                                       // metres below the bag's top edge
	RateHz        float64 `toml:"rate_hz" json:"rate_hz"`                                       // nominal samples a second, above 0
	AccelRangeG   float64 `toml:"accel_range_g" json:"accel_range_g"`                           // largest reading of an accelerometer axis, g, above 0
	GyroRangeDPS  float64 `toml:"gyro_range_dps,omitempty" json:"gyro_range_dps,omitempty"`     // largest reading of a gyroscope axis, degrees a second, above 0; absent without a gyroscope
	AccelLSBPerG  float64 `toml:"accel_lsb_per_g,omitempty" json:"accel_lsb_per_g,omitempty"`   // counts in one g, above 0; absent where logs are not in counts
	GyroLSBPerDPS float64 `toml:"gyro_lsb_per_dps,omitempty" json:"gyro_lsb_per_dps,omitempty"` // counts in one degree a second, above 0; absent where logs are not in counts
	// AccelNoiseMPS2 is the noise of an accelerometer's reading, m/s², a standard deviation,
	// above 0; absent where it is measured from still stretches.
	AccelNoiseMPS2 float64  `toml:"accel_noise_mps2,omitempty" json:"accel_noise_mps2,omitempty"`
	Axes           Axes     `toml:"axes" json:"axes"`                                 // where the axes point
	YawDeg         float64  `toml:"yaw_deg" json:"yaw_deg"`                           // how far the mount is turned clockwise seen from above, after axes, degrees
	YawSDDeg       *float64 `toml:"yaw_sd_deg,omitempty" json:"yaw_sd_deg,omitempty"` // how far off that may be, a standard deviation in degrees, at least 0; absent for the usual 3
}

// UsualYawSDDeg is how far off, as a standard deviation, a yaw_deg is that
// nobody says more of: about what the eye makes of a mark on a bag. Common
// practice, no source.
const UsualYawSDDeg = 3.0

// YawUncertainDeg is the standard deviation of YawDeg, 0 where it is exact.
func (s Sensor) YawUncertainDeg() float64 {
	if s.YawSDDeg != nil {
		return *s.YawSDDeg
	}
	return UsualYawSDDeg
}

// Axes says where each sensor axis points: a bearing in degrees, "up" or "down".
type Axes struct {
	X string `toml:"x" json:"x"` // where the x axis points: a bearing in degrees, up or down
	Y string `toml:"y" json:"y"` // where the y axis points: a bearing in degrees, up or down
	Z string `toml:"z" json:"z"` // where the z axis points: a bearing in degrees, up or down
}

// Motion is what was measured of the bag's free motion; 0 is not measured. A
// decay is the time in which an amplitude falls to 1/e.
type Motion struct {
	SwingHz       float64 `toml:"swing_hz,omitempty" json:"swing_hz,omitempty"`               // frequency of the swing, hertz, above 0; absent where not measured
	SwingDecayS   float64 `toml:"swing_decay_s,omitempty" json:"swing_decay_s,omitempty"`     // time in which the swing falls to 1/e, seconds, above 0; absent where not measured
	RockingHz     float64 `toml:"rocking_hz,omitempty" json:"rocking_hz,omitempty"`           // frequency of the rocking, hertz, above 0; absent where not measured
	RockingDecayS float64 `toml:"rocking_decay_s,omitempty" json:"rocking_decay_s,omitempty"` // time in which the rocking falls to 1/e, seconds, above 0; absent where not measured
	TwistHz       float64 `toml:"twist_hz,omitempty" json:"twist_hz,omitempty"`               // frequency of the twist, hertz, above 0; absent where not measured
	TwistDecayS   float64 `toml:"twist_decay_s,omitempty" json:"twist_decay_s,omitempty"`     // time in which the twist falls to 1/e, seconds, above 0; absent where not measured
}

// Calibration corrects what the sensor reads, in its own axes: a true reading
// is AccelMatrix (reading - AccelBiasMPS2), and GyroMatrix (reading -
// GyroBiasRadps). A bias has three numbers, nil is none; a matrix three rows of
// three, nil is the identity.
type Calibration struct {
	AccelBiasMPS2 []float64   `toml:"accel_bias_mps2,omitempty" json:"accel_bias_mps2,omitempty"` // bias of the accelerometer's x, y and z axis, m/s²; absent where none is taken off
	AccelMatrix   [][]float64 `toml:"accel_matrix,omitempty" json:"accel_matrix,omitempty"`       // three rows that take readings less their bias to true ones; absent where they are true as they are
	GyroBiasRadps []float64   `toml:"gyro_bias_radps,omitempty" json:"gyro_bias_radps,omitempty"` // bias of the gyroscope's x, y and z axis, rad/s; absent where none is taken off
	// GyroMatrix are the three rows that take its readings less their bias to true ones;
	// absent where they are true as they are.
	GyroMatrix     [][]float64 `toml:"gyro_matrix,omitempty" json:"gyro_matrix,omitempty"`
	GyroNoiseRadps float64     `toml:"gyro_noise_radps,omitempty" json:"gyro_noise_radps,omitempty"` // noise of a gyroscope's reading, rad/s, a standard deviation, at least 0; absent where not measured
}

// LogHint says how the board writes its logs; every field is optional.
type LogHint struct {
	TimeUnit  string `toml:"time_unit,omitempty" json:"time_unit,omitempty"`   // unit of stamps, one of us, ms or s; absent where the log says it
	AccelUnit string `toml:"accel_unit,omitempty" json:"accel_unit,omitempty"` // unit of accelerations, one of counts, g, mg or m/s2; absent where the log says it
	GyroUnit  string `toml:"gyro_unit,omitempty" json:"gyro_unit,omitempty"`   // unit of rotation rates, one of counts, dps or rad/s; absent where the log says it
	Frame     *Frame `toml:"frame,omitempty" json:"frame,omitempty"`           // packed binary frames; absent where the board writes none
}

// Frame describes packed binary frames: a magic, the fields in order, and a
// checksum over the bytes after the magic.
type Frame struct {
	Magic    string   `toml:"magic" json:"magic"`       // bytes that begin a frame, hexadecimal
	Fields   []string `toml:"fields" json:"fields"`     // what follows, in order: type and name, such as "u32le t" or "i16le ax"
	Checksum string   `toml:"checksum" json:"checksum"` // last byte or bytes, over those after the magic, one of xor8, none, sum8 or crc16-ccitt-false
}

// Key names a revision as the corpus does: NAME-rREV.
func (r *Rig) Key() string { return Key(r.Name, r.Revision) }

// Key joins a rig's name and revision.
func Key(name string, revision int) string { return fmt.Sprintf("%s-r%d", name, revision) }

// HasGyro tells whether the rig's sensor measures rotation.
func (r *Rig) HasGyro() bool { return r.Sensor.GyroRangeDPS > 0 }

// BandOf returns the name of the band that holds a height in metres above the
// bag's bottom edge. Heights below 0 belong to the first band and heights
// above the top to the last; NaN gives "".
func (r *Rig) BandOf(heightM float64) string {
	if math.IsNaN(heightM) || len(r.Bands) == 0 {
		return ""
	}
	for _, b := range r.Bands[:len(r.Bands)-1] {
		if heightM < b.ToM {
			return b.Name
		}
	}
	return r.Bands[len(r.Bands)-1].Name
}

// BandRange returns the heights, in metres, between which a band lies.
func (r *Rig) BandRange(name string) (fromM, toM float64, ok bool) {
	for i, b := range r.Bands {
		toM = b.ToM
		if i == len(r.Bands)-1 {
			toM = r.Bag.LengthM
		}
		if b.Name == name {
			return fromM, toM, true
		}
		fromM = toM
	}
	return 0, 0, false
}

// FaceOf returns the face that holds a bearing.
func (r *Rig) FaceOf(deg float64) int { return bearing.FaceOf(deg, r.Faces) }
