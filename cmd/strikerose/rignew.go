package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"strikerose/dataset/rig"
)

// askSizes asks for what tells this bag from another. Nothing is final: the
// file can be changed.
func askSizes(ctx context.Context, q *asker, name string) (rig.Sizes, error) {
	s := rig.TemplateSizes()
	fmt.Fprintf(q.out, "Some questions about %s; an empty answer takes what stands in brackets.\nEvery value stands with its meaning in the file, to be changed there.\n", name)
	fmt.Fprintln(q.out, strings.TrimSpace(rig.Cautions))
	for _, number := range []struct {
		question string
		at       *float64
		least    float64
	}{
		{"Length of the bag, bottom edge to top edge, m", &s.LengthM, 0},
		{"Diameter, m", &s.DiameterM, 0},
		{"Mass as it hangs, without the chain, kg", &s.MassKg, 0},
		{"Chain, from the swivel to the ring where the straps meet, m", &s.ChainM, 0},
		{"Sensor, below the bag's top edge, m", &s.SensorDepthM, 0},
		{"Readings a second", &s.RateHz, 0},
		{"Range of the accelerometer, g", &s.AccelRangeG, 0},
		{"Range of the gyroscope, degrees a second (0: none)", &s.GyroRangeDPS, -1},
	} {
		err := q.ask(ctx, number.question, strconv.FormatFloat(*number.at, 'g', -1, 64), func(answer string) error {
			x, err := strconv.ParseFloat(strings.Replace(answer, ",", ".", 1), 64)
			if err != nil || !(x > number.least && x < 1e6) {
				return fmt.Errorf("%q is no such number", answer)
			}
			before := *number.at
			*number.at = x
			if _, err := rig.Filled(name, s); err != nil && number.at != &s.LengthM { // a new length may leave the sensor outside
				*number.at = before
				return err
			}
			return nil
		})
		if err != nil {
			return s, err
		}
		s.SensorDepthM = min(s.SensorDepthM, s.LengthM)
	}
	err := q.ask(ctx, "Where the sensor's axes x, y and z point: a bearing in degrees, up or down", strings.Join(s.Axes, " "), func(answer string) error {
		before := s.Axes
		s.Axes = strings.Fields(strings.ReplaceAll(answer, ",", " "))
		_, err := rig.Filled(name, s)
		if err != nil {
			s.Axes = before
		}
		return err
	})
	return s, err
}
