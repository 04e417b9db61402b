package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
)

// pipelineRig is what peers/pipeline.py has to know of a rig.
type pipelineRig struct {
	RateHz      float64       `json:"rate_hz"`
	LimitMPS2   float64       `json:"limit_mps2"`
	NoiseMPS2   float64       `json:"noise_mps2"` // 0: measured
	SensorToBag [3][3]float64 `json:"sensor_to_bag"`
	MassKg      float64       `json:"mass_kg"`
	SwingS      float64       `json:"swing_s"`
	SensorM     float64       `json:"sensor_m"`   // its height above the centre of mass
	GyrationM   float64       `json:"gyration_m"` // radius of gyration across
	TwistM      float64       `json:"twist_m"`    // turning inertia over mass and radius
}

func newPipelineRig(r *rig.Rig) (pipelineRig, error) {
	if r.Sensor.RateHz != 1000 || r.Calibration != nil {
		return pipelineRig{}, fmt.Errorf("rig %s: the peer's script takes logs of 1000 Hz without a calibration only", r.Key())
	}
	in := r.Inertia()
	return pipelineRig{
		RateHz: r.Sensor.RateHz, LimitMPS2: r.Sensor.AccelRangeG * dataset.StandardGravity, NoiseMPS2: r.Sensor.AccelNoiseMPS2,
		SensorToBag: r.SensorToBag(), MassKg: r.Bag.MassKg,
		SwingS:    2 * math.Pi * math.Sqrt((r.Hang.ChainM+r.Hang.StrapM+in.CentreOfMassDepthM)/dataset.StandardGravity),
		SensorM:   in.CentreOfMassDepthM - r.Sensor.DepthM,
		GyrationM: in.RadiusOfGyrationM,
		TwistM:    in.TwistKgM2 / (r.Bag.MassKg * r.Bag.DiameterM / 2),
	}, nil
}

// agreement is what peers/agree.py tells.
type agreement struct {
	Ours   int                `json:"ours"`
	Theirs int                `json:"theirs"`
	Both   int                `json:"both"`
	Apart  map[string]float64 `json:"apart"`
}

// What counts as the same work: nearly all strikes are the same, and features of
// these differ by less than an onset a sample earlier or later makes of them.
const (
	leastBoth = 0.97
	mostApart = 0.03
)

func (g agreement) check() (string, error) {
	if float64(g.Both) < leastBoth*float64(max(g.Ours, g.Theirs)) {
		return "", fmt.Errorf("ours finds %d strikes, the peer %d, both %d", g.Ours, g.Theirs, g.Both)
	}
	worst := 0.0
	for name, apart := range g.Apart {
		if !(apart <= mostApart) {
			return "", fmt.Errorf("feature %s differs by %.2g of its size", name, apart)
		}
		worst = max(worst, apart)
	}
	return fmt.Sprintf("Strikes found: ours %d, peer %d, both %d; of these %d features differ by %.2g of their size at most (medians).", g.Ours, g.Theirs, g.Both, len(g.Apart), worst), nil
}

// findContest finds the strikes of a corpus and computes their features, against
// the same steps in NumPy and SciPy on the same samples as bare columns.
func findContest(ctx context.Context, w *workspace, p *peers, dir string, samples int64) (*contest, error) {
	c, err := corpus.Open(dir)
	if err != nil {
		return nil, err
	}
	sessions, err := c.Sessions()
	if err != nil {
		return nil, err
	}
	r, err := c.Rig(sessions[0].Rig)
	if err != nil {
		return nil, err
	}
	about, err := newPipelineRig(r)
	if err != nil {
		return nil, err
	}
	config, columns, out := w.path("rig.json"), w.path("columns"), w.path("found")
	if err := writeJSON(config, about); err != nil {
		return nil, err
	}
	if err := w.clear("columns", "found"); err != nil {
		return nil, err
	}
	if _, err := runChild(ctx, w.self, "columns", dir, columns); err != nil {
		return nil, err
	}
	args := []string{config, out}
	for _, s := range sessions {
		args = append(args, filepath.Join(columns, s.Name))
	}
	size, err := sizeOf(filepath.Join(dir, "samples"))
	if err != nil {
		return nil, err
	}
	return &contest{
		name: "find+features", samples: samples, bytes: size, peer: "NumPy, SciPy", target: 5,
		about: "Strikes and their features from the samples. Ours reads Parquet and verifies checksums; the peer reads bare columns, which favours it, and vectorises over samples, events and strikes on one processor.",
		ours: func(ctx context.Context) (usage, error) {
			return runChild(ctx, w.program, "find", "--features", "--quiet", "-C", dir)
		},
		theirs: func(ctx context.Context) (usage, error) {
			u, _, err := p.python(ctx, "pipeline.py", args...)
			return u, err
		},
		agree: func() (string, error) {
			table := w.path("features.npy")
			if _, err := runChild(ctx, w.program, "features", "--quiet", "-C", dir, "-o", table); err != nil {
				return "", err
			}
			_, said, err := p.python(ctx, "agree.py", out, table)
			if err != nil {
				return "", err
			}
			var g agreement
			if err := json.Unmarshal(said, &g); err != nil {
				return "", fmt.Errorf("%.200q: %w", said, err)
			}
			return g.check()
		},
	}, nil
}
