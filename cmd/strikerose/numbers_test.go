package main

import (
	"math"
	"testing"
)

func TestNumberTexts(t *testing.T) {
	for _, tc := range []struct{ got, want string }{
		{bearingText(359.996), "0.00"},
		{bearingText(359.994), "359.99"},
		{bearingText(0), "0.00"},
		{bearingText(math.NaN()), ""},
		{fixed(math.Inf(1), 2), ""},
		{secondsText(1_234_560_000), "1.2346"},
		{secondsText(1_234_540_000), "1.2345"},
		{readyText(1_234_500_001), "1.2346"},
		{readyText(1_234_500_000), "1.2346"},
		{readyText(1_234_450_000), "1.2345"},
		{readyText(0), "0.0001"},
		{optional(nil, heightText), ""},
		{counted(1, "strike"), "1 strike"},
		{counted(0, "strike"), "0 strikes"},
	} {
		if tc.got != tc.want {
			t.Errorf("got %q, want %q", tc.got, tc.want)
		}
	}
}
