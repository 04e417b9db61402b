package translate_test

import (
	"strings"
	"testing"
)

// FuzzTranslate: no text panics, and what is refused is told with its place.
func FuzzTranslate(f *testing.F) {
	for _, c := range refusals {
		f.Add(strings.Replace(frame+c.body+"\n}\n"+c.top+"\n", "¦", "", 1))
	}
	for _, c := range otherwise {
		f.Add(strings.Replace(otherwiseFrame+c.body+"\n}\n"+c.top+"\n", "¦", "", 1))
	}
	f.Add(twoWays)
	f.Add(global)
	f.Fuzz(func(t *testing.T, text string) {
		_, err := translateText(text)
		if err != nil && !strings.Contains(err.Error(), "board/run.go:") && !strings.Contains(err.Error(), "board.Run") {
			t.Errorf("an error without a place: %v", err)
		}
	})
}
