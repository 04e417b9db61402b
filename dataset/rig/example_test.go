package rig_test

import (
	"fmt"
	"math"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// What a blow of 20 N s does to the template's bag, by how high it lands.
func ExampleMechanics_Struck() {
	r, err := rig.Parse(rig.Template("shed"), "shed.toml")
	if err != nil {
		fmt.Println(err)
		return
	}
	m := r.Mechanics()
	for _, heightM := range []float64{0.2, 0.5, 0.8} {
		f := m.Free(m.Struck(20, m.DepthM(heightM)))
		swing, rocking := f.Amplitudes()
		fmt.Printf("height %.1f m: the bag swings by %.0f and rocks by %.0f degrees\n",
			heightM, bearing.Deg(swing.BagRad), bearing.Deg(rocking.BagRad))
	}
	// Output:
	// height 0.2 m: the bag swings by 13 and rocks by 6 degrees
	// height 0.5 m: the bag swings by 10 and rocks by 2 degrees
	// height 0.8 m: the bag swings by 7 and rocks by 11 degrees
}

// A bag that is let go with its chain at 60 degrees, and what its sensor reads when it hangs
// straight down for the first time.
func ExamplePendulum_Step() {
	r, err := rig.Parse(rig.Template("shed"), "shed.toml")
	if err != nil {
		fmt.Println(err)
		return
	}
	p := r.Mechanics().Pendulum()
	pose := rig.Hanging()
	pose.Bag = rig.Vec{Y: math.Sin(bearing.Rad(60)), Z: -math.Cos(bearing.Rad(60))}
	pose.Chain = pose.Bag
	for pose.Bag.Y > 0 {
		pose = p.Step(pose, 1e-3, rig.Push{}, rig.Push{}, rig.Push{})
	}
	force, turn := p.Reading(pose, rig.Push{}, rig.Axis(p.SensorM))
	fmt.Printf("%.1f m/s2 along the bag, %.1f rad/s\n", force.Z, turn.X)
	// Output: 19.5 m/s2 along the bag, -2.0 rad/s
}
