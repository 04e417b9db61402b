package models_test

import (
	"testing"

	"strikerose/models"
	"strikerose/models/modelstest"
)

func TestBattery(t *testing.T) {
	for _, f := range models.Families() {
		t.Run(f.Name, func(t *testing.T) { modelstest.Run(t, f) })
	}
}
