// Package modelstest is the battery of checks that every family of detectors
// must pass, with simulated evenings to run it on.
//
// It refuses nothing and measures nothing: how good a detector is belongs to
// eval. It sits beside models and is imported by tests alone.
package modelstest

import (
	"testing"

	"strikerose/models"
)

// Exemption excuses a family from a check.
type Exemption struct{ Family, Check, Reason string }

// Exemptions lists every excuse, each with its reason.
func Exemptions() []Exemption {
	const noWeights = "learns a yaw offset and its certainty alone: wrong labels cannot spoil its weights, and its stated certainty shows them"
	const noMirror = "what it learned of strikes on one side of their first direction it does not reflect to the other"
	return []Exemption{
		{"peak-arctangent", "shuffled labels", noWeights},
		{"kick-direction", "shuffled labels", noWeights},
		{"principal-axis", "shuffled labels", noWeights},
		{"pendulum", "shuffled labels", noWeights},
		{"physics", "shuffled labels", noWeights},
		{"informed", "shuffled labels", "falls back on the fit of the bag's motion where labels teach nothing, which wrong labels cannot spoil; its stated certainty shows them"},
		{"k-nearest", "mirror", noMirror},
		{"cart", "mirror", noMirror},
	}
}

// check is one of the battery.
type check struct {
	name string
	run  func(t *testing.T, f models.Family, d *data)
}

// data is what the checks share. They must not change it.
type data struct {
	gyro, accel []models.Example // three sessions each
	fits        map[examples]models.Detector
}

// examples tells slices of the shared examples apart.
type examples struct {
	first *models.Example
	n     int
}

// fitted is the family trained on some of the shared examples, once for all
// checks that only ask it.
func (d *data) fitted(t *testing.T, f models.Family, ex []models.Example) models.Detector {
	t.Helper()
	key := examples{&ex[0], len(ex)}
	if _, ok := d.fits[key]; !ok {
		d.fits[key] = mustFit(t, f, ex)
	}
	return d.fits[key]
}

// Run runs the battery on one family.
func Run(t *testing.T, f models.Family) {
	t.Helper()
	d := &data{fits: map[examples]models.Detector{}}
	for i, name := range []string{"monday", "tuesday", "friday"} {
		d.gyro = append(d.gyro, Examples(t, Rig(true), name, 24, uint64(10+i))...)
		d.accel = append(d.accel, Examples(t, Rig(false), name, 24, uint64(10+i))...)
	}
	for _, c := range checks() {
		t.Run(c.name, func(t *testing.T) {
			for _, e := range Exemptions() {
				if e.Family == f.Name && e.Check == c.name {
					t.Skipf("%s is exempt: %s", f.Name, e.Reason)
				}
			}
			c.run(t, f, d)
		})
	}
}

func checks() []check {
	return []check{
		{"no examples", noExamples},
		{"faulty examples", faultyExamples},
		{"one example", oneExample},
		{"one session", oneSession},
		{"refit", refit},
		{"inputs untouched", inputsUntouched},
		{"order of rows", orderOfRows},
		{"save and load", saveAndLoad},
		{"extremes", extremes},
		{"no gyroscope", noGyroscope},
		{"gyroscope lost", gyroscopeLost},
		{"mirror", mirror},
		{"wait", wait},
		{"concurrent", concurrent},
		{"cancelled", cancelled},
		{"shuffled labels", shuffledLabels},
		{"certainty sees shuffled labels", certaintySeesShuffled},
		{"turned recording", turnedRecording},
		{"cut after ready", cutAfterReady},
	}
}
