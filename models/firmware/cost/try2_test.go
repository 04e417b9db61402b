package cost_test
import ("testing";"strikerose/models/firmware/cost";"strikerose/models/firmware/emulate";"strikerose/models/firmware")
func TestTry2(t *testing.T) {
	for _, name := range []string{"arctangent"} { for _, k := range kinds() { if k.name != name { continue }
		v, f := device(t, k, firmware.Fixed)
		t.Logf("ring %d rate %g", v.Ring, v.Rig.Sensor.RateHz)
		files := exported(t, v, f)
		for _, target := range emulate.Targets() {
			s := stream(t, v, k.gyro, 700)
			c, err := cost.Measure(t.Context(), target, files, s)
			if err != nil { t.Errorf("%v", err); continue }
			events, _ := v.Run(t.Context(), s)
			same := firmware.Lines(events) == c.Events
			if !same { t.Logf("%s\n%s", firmware.Lines(events), c.Events) }
			c.Events = ""
			t.Logf("%d samples %d events same %v %+v", len(s), len(events), same, *c)
	} } }
}
