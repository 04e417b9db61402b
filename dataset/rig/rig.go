// Package rig describes one bag: its sizes, how it hangs, what fills it, and
// where and how the sensor sits in it. It reads the rig file (TOML, strict)
// and holds plain geometry. It imports nothing else of the project but the
// angle arithmetic of dataset/bearing.
package rig

import (
	"fmt"
	"math"

	"strikerose/dataset/bearing"
)

// Rig is one revision of one rig. Depths are metres below the bag's top edge,
// heights metres above its bottom edge.
type Rig struct {
	Name        string       `toml:"name" json:"name"`
	Revision    int          `toml:"revision" json:"revision"`
	Faces       int          `toml:"faces" json:"faces"`
	Bands       []Band       `toml:"bands" json:"bands"`
	Bag         Bag          `toml:"bag" json:"bag"`
	Core        *Core        `toml:"core" json:"core,omitempty"`
	Hang        Hang         `toml:"hang" json:"hang"`
	Sensor      Sensor       `toml:"sensor" json:"sensor"`
	Motion      *Motion      `toml:"motion" json:"motion,omitempty"`
	Calibration *Calibration `toml:"calibration" json:"calibration,omitempty"`
	Log         LogHint      `toml:"log" json:"log"`
}

// Band is a named range of heights that ends at ToM; the last one ends at the
// bag's top and gives none.
type Band struct {
	Name string  `toml:"name" json:"name"`
	ToM  float64 `toml:"to_m,omitempty" json:"to_m,omitempty"`
}

// Bag is the outside: total mass, and the cylinder's sizes.
type Bag struct {
	MassKg             float64  `toml:"mass_kg" json:"mass_kg"`
	LengthM            float64  `toml:"length_m" json:"length_m"`
	DiameterM          float64  `toml:"diameter_m" json:"diameter_m"`
	CoverMassKg        float64  `toml:"cover_mass_kg,omitempty" json:"cover_mass_kg,omitempty"`
	CentreOfMassDepthM *float64 `toml:"centre_of_mass_depth_m,omitempty" json:"centre_of_mass_depth_m,omitempty"`
	RadiusOfGyrationM  *float64 `toml:"radius_of_gyration_m,omitempty" json:"radius_of_gyration_m,omitempty"`
}

// Core is the dense part along the axis, included in the bag's mass.
type Core struct {
	MassKg    float64 `toml:"mass_kg" json:"mass_kg"`
	LengthM   float64 `toml:"length_m" json:"length_m"`
	DiameterM float64 `toml:"diameter_m" json:"diameter_m"`
	TopDepthM float64 `toml:"top_depth_m" json:"top_depth_m"`
}

// Hang is the suspension: swivel to lower pivot, lower pivot to bag top.
type Hang struct {
	ChainM      float64 `toml:"chain_m" json:"chain_m"`
	StrapM      float64 `toml:"strap_m" json:"strap_m"`
	ChainMassKg float64 `toml:"chain_mass_kg,omitempty" json:"chain_mass_kg,omitempty"`
}

// Sensor is where the sensor sits, how it is turned, and what it can read.
// GyroRangeDPS is 0 where there is no gyroscope.
type Sensor struct {
	DepthM         float64  `toml:"depth_m" json:"depth_m"`
	RateHz         float64  `toml:"rate_hz" json:"rate_hz"`
	AccelRangeG    float64  `toml:"accel_range_g" json:"accel_range_g"`
	GyroRangeDPS   float64  `toml:"gyro_range_dps,omitempty" json:"gyro_range_dps,omitempty"`
	AccelLSBPerG   float64  `toml:"accel_lsb_per_g,omitempty" json:"accel_lsb_per_g,omitempty"`
	GyroLSBPerDPS  float64  `toml:"gyro_lsb_per_dps,omitempty" json:"gyro_lsb_per_dps,omitempty"`
	AccelNoiseMPS2 float64  `toml:"accel_noise_mps2,omitempty" json:"accel_noise_mps2,omitempty"`
	Axes           Axes     `toml:"axes" json:"axes"`
	YawDeg         float64  `toml:"yaw_deg" json:"yaw_deg"`
	YawSDDeg       *float64 `toml:"yaw_sd_deg,omitempty" json:"yaw_sd_deg,omitempty"` // nil: UsualYawSDDeg
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
	X string `toml:"x" json:"x"`
	Y string `toml:"y" json:"y"`
	Z string `toml:"z" json:"z"`
}

// Motion is what was measured of the bag's free motion; 0 is not measured. A
// decay is the time in which an amplitude falls to 1/e.
type Motion struct {
	SwingHz       float64 `toml:"swing_hz,omitempty" json:"swing_hz,omitempty"`
	SwingDecayS   float64 `toml:"swing_decay_s,omitempty" json:"swing_decay_s,omitempty"`
	RockingHz     float64 `toml:"rocking_hz,omitempty" json:"rocking_hz,omitempty"`
	RockingDecayS float64 `toml:"rocking_decay_s,omitempty" json:"rocking_decay_s,omitempty"`
	TwistHz       float64 `toml:"twist_hz,omitempty" json:"twist_hz,omitempty"`
	TwistDecayS   float64 `toml:"twist_decay_s,omitempty" json:"twist_decay_s,omitempty"`
}

// Calibration corrects what the sensor reads, in its own axes: a true reading
// is AccelMatrix (reading - AccelBiasMPS2), and GyroMatrix (reading -
// GyroBiasRadps). A bias has three numbers, nil is none; a matrix three rows of
// three, nil is the identity.
type Calibration struct {
	AccelBiasMPS2  []float64   `toml:"accel_bias_mps2,omitempty" json:"accel_bias_mps2,omitempty"`
	AccelMatrix    [][]float64 `toml:"accel_matrix,omitempty" json:"accel_matrix,omitempty"`
	GyroBiasRadps  []float64   `toml:"gyro_bias_radps,omitempty" json:"gyro_bias_radps,omitempty"`
	GyroMatrix     [][]float64 `toml:"gyro_matrix,omitempty" json:"gyro_matrix,omitempty"`
	GyroNoiseRadps float64     `toml:"gyro_noise_radps,omitempty" json:"gyro_noise_radps,omitempty"`
}

// LogHint says how the board writes its logs; every field is optional.
type LogHint struct {
	TimeUnit  string `toml:"time_unit,omitempty" json:"time_unit,omitempty"`   // us, ms, s
	AccelUnit string `toml:"accel_unit,omitempty" json:"accel_unit,omitempty"` // counts, g, mg, m/s2
	GyroUnit  string `toml:"gyro_unit,omitempty" json:"gyro_unit,omitempty"`   // counts, dps, rad/s
	Frame     *Frame `toml:"frame,omitempty" json:"frame,omitempty"`
}

// Frame describes packed binary frames: a magic, the fields in order, and a
// checksum over the bytes after the magic.
type Frame struct {
	Magic    string   `toml:"magic" json:"magic"`       // hexadecimal
	Fields   []string `toml:"fields" json:"fields"`     // "u32le t", "i16le ax", ...
	Checksum string   `toml:"checksum" json:"checksum"` // xor8, none, sum8, crc16-ccitt-false
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
