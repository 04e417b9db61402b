package models

import (
	"math"

	"strikerose/dataset/rig"
)

// Revision is what changes for a detector from one rig to another, most often
// two revisions of one.
type Revision struct {
	Before    string   `json:"before"`     // key of the earlier rig, NAME-rREV
	After     string   `json:"after"`      // key of the later rig, NAME-rREV
	Changed   []string `json:"changed"`    // values of the rig file that differ, in words
	Effects   []Effect `json:"effects"`    // what follows from them
	SameMount bool     `json:"same_mount"` // whether the sensor is turned alike by the files of one rig, so that the yaw offset carries over
	SameShape bool     `json:"same_shape"` // whether the sensor sees blows much alike, so that what was learned may carry over
}

// Effect is a quantity that follows from a rig file.
type Effect struct {
	Name   string   `json:"name"`   // quantity in words
	Unit   string   `json:"unit"`   // unit of before and after; empty for a ratio
	Before *float64 `json:"before"` // value on the earlier rig; null where there is none, such as a dead height off the bag
	After  *float64 `json:"after"`  // value on the later rig; null where there is none
}

// Between compares two rigs.
func Between(before, after *rig.Rig) Revision {
	r := Revision{Before: before.Key(), After: after.Key(), SameMount: sameMount(before, after)}
	for _, d := range rig.Diff(before, after) {
		if d.Key != "revision" {
			r.Changed = append(r.Changed, d.String())
		}
	}
	add := func(name, unit string, of func(*rig.Rig) *float64) {
		r.Effects = append(r.Effects, Effect{name, unit, of(before), of(after)})
	}
	effect := func(name, unit string, of func(*rig.Rig) float64) {
		add(name, unit, func(r *rig.Rig) *float64 { v := of(r); return &v })
	}
	add("dead height on the bag", "m", func(r *rig.Rig) *float64 {
		if h, onBag := r.Mechanics().DeadHeight(); onBag {
			return &h
		}
		return nil
	})
	effect("first kick of the sensor by a blow at mid height", "m/s per N s", func(r *rig.Rig) float64 {
		m := r.Mechanics()
		return m.Accelerance(m.DepthM(m.LengthM/2), m.SensorM)
	})
	effect("sensor above the centre of mass", "m", func(r *rig.Rig) float64 { return ConstantsOf(r).SensorAboveCentreM() })
	effect("the same over the radius of gyration", "", func(r *rig.Rig) float64 { return ConstantsOf(r).geometry() })
	effect("mount by the file", "deg", func(r *rig.Rig) float64 { return r.Sensor.YawDeg })
	r.SameShape = math.Abs(ConstantsOf(before).geometry()-ConstantsOf(after).geometry()) <= outsideSuits
	return r
}

// sameMount tells whether two revisions of one rig say that the sensor is
// turned alike.
func sameMount(a, b *rig.Rig) bool {
	return a.Name == b.Name && a.Sensor.YawDeg == b.Sensor.YawDeg && a.Sensor.Axes == b.Sensor.Axes
}
