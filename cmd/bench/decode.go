package main

import (
	"context"
	"os"

	"strikerose/dataset"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
)

// decode reads a log as import does.
func decode(ctx context.Context, log string, rg *rig.Rig) (dataset.Session, *dataset.Signal, error) {
	f, err := os.Open(log)
	if err != nil {
		return dataset.Session{}, nil, err
	}
	defer f.Close()
	res, err := intake.Read(ctx, f, log, rg, intake.Options{}, nil)
	if err != nil {
		return dataset.Session{}, nil, err
	}
	return res.Session, &res.Signal, nil
}
