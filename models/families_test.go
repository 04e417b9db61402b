package models_test

import (
	"testing"

	"strikerose/models"
	"strikerose/models/modelstest"
)

func TestBattery(t *testing.T) {
	pair, ok := models.FamilyByName("complex-ridge+discriminant")
	if !ok {
		t.Fatal("no pairs")
	}
	for _, f := range append(models.Families(), pair) {
		t.Run(f.Name, func(t *testing.T) { modelstest.Run(t, f) })
	}
}
