package cost_test

import (
	"testing"

	"strikerose/models/firmware"
	"strikerose/models/firmware/cost"
	"strikerose/models/firmware/emulate"
)

func TestTry(t *testing.T) {
	for _, k := range kinds() {
		for _, profile := range []string{firmware.Fixed, firmware.Float32} {
			v, f := device(t, k, profile)
			files := exported(t, v, f)
			for _, target := range emulate.Targets() {
				require(t, target)
				most := 4000
				if target.NoFloat {
					most = 700
				}
				s := stream(t, v, k.gyro, most)
				c, err := cost.Measure(t.Context(), target, files, s)
				if err != nil {
					t.Errorf("%s %s %v", k.name, profile, err)
					continue
				}
				events, err := v.Run(t.Context(), s)
				if err != nil {
					t.Fatal(err)
				}
				same := firmware.Lines(events) == c.Events
				c.Events = ""
				t.Logf("%s %s: %d samples %d events same %v %+v", k.name, profile, len(s), len(events), same, *c)
			}
		}
	}
}
