package tune

import (
	"reflect"
	"testing"

	"strikerose/dataset/rig"
	"strikerose/models"
)

// Values are exchanged within one rig and session only.
func TestAlike(t *testing.T) {
	hall, gym := &rig.Rig{Name: "hall", Revision: 1}, &rig.Rig{Name: "gym", Revision: 1}
	of := func(session string, r *rig.Rig) models.Example {
		return models.Example{Session: session, Input: models.Input{Rig: r}}
	}
	ex := []models.Example{of("a", hall), of("b", hall), of("a", hall), of("a", gym), of("b", hall), of("a", gym)}
	got := alike(ex, []int{0, 1, 2, 3, 4})
	if want := [][]int{{0, 2}, {1, 4}, {3}}; !reflect.DeepEqual(got, want) {
		t.Errorf("parts %v, want %v", got, want)
	}
}
