// Package modelstest is the battery of checks that every family of detectors
// must pass.
package modelstest

import (
	"testing"

	"strikerose/models"
)

// Run runs the battery on one family.
func Run(t *testing.T, f models.Family) { t.Helper() }
