package report

import (
	"strings"
	"testing"
)

func TestPackedKeepsShapes(t *testing.T) {
	for in, want := range map[string]string{
		`<path d="M10,20L11.4,21.4L12.8,20Z" />`:                       `<path d="M10,20L11.4,21.4L12.8,20Z" />`, // one shape stays
		`<path d="M10,20L11.4,21.4L12.8,20ZM8,30L9.44,28.6L7,30Z" />`:  `<path d="m10 20 1.4 1.4 1.4-1.4zm-2 10 1.4-1.4-2.4 1.4z" />`,
		`<path d="M1,1A5,5 0 0 1 2,2ZM1,1L2,2Z" />`:                    `<path d="M1,1A5,5 0 0 1 2,2ZM1,1L2,2Z" />`, // arcs stay
		`<path d="M-1,0.04L1,0.06L0,1ZM-3,-0.06L1,0L0,1Z" x="M0,0Z"/>`: `<path d="m-1 0 2 .1-1 .9zm-2-.1 4 .1-1 1z" x="M0,0Z"/>`,
	} {
		if got := packed(in); got != want {
			t.Errorf("packed(%s)\n got %s\nwant %s", in, got, want)
		}
	}
	many := `<path d="` + strings.Repeat("M100.37,21.442L101.77,22.842L103.17,21.442L101.77,20.042Z", 50) + `" />`
	if got := packed(many); 5*len(got) > 3*len(many) {
		t.Errorf("%d bytes of %d are left", len(got), len(many))
	}
}
