package drift

import "testing"

func TestTextOfNumbers(t *testing.T) {
	for unit, want := range map[string]string{"m/s2": "1.23 m/s²", "N s": "1.23 N s", "1/N s": "1.23 1/N s", "": "1.23"} {
		if got := text(1.2345, unit); got != want {
			t.Errorf("%q: %q, want %q", unit, got, want)
		}
	}
}
