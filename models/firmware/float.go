package firmware

import (
	"strikerose/models"
)

// float sets the numbers of the float32 profile beside those of the fixed one.
func (n *numbers) float() {
	t := &n.table
	f := &t.Reals
	k := models.ConstantsOf(n.rig)
	f.YawDeg = float32(float64(t.Yaw) / (1 << 32) * 360)
	f.CentreM, f.MiddleM, f.LengthM = float32(n.centreM), float32(k.LengthM/2), float32(k.LengthM)
	f.WeakMPS = models.WeakestKickMPS
	f.KickScale = float32(n.units.AccelMPS2 * (kickToMs - kickFromMs) / 1000 / (float64(t.Kick.Samples()) / 256) / 16)
	f.Floor = float32(n.floor)
	for i := range n.stretches {
		var a, g [6]float32
		var z [3]float32
		for k := range a {
			a[k], g[k] = float32(n.formA[i][k]), float32(n.formG[i][k])
		}
		for k := range z {
			z[k] = float32(n.formZ[i][k])
		}
		f.FormA, f.FormG, f.FormZ, f.FormS = append(f.FormA, a), append(f.FormG, g), append(f.FormZ, z), append(f.FormS, [2]float32{float32(n.formS[i][0]), float32(n.formS[i][1])})
	}
}
