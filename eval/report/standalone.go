package report

import (
	"fmt"
	"io"
	"regexp"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// standalone draws like inline, as a whole SVG file that carries its colours
// for light and dark screens itself.
func standalone(w io.Writer, width, height vg.Length, title string, paint func(draw.Canvas)) error {
	drawing, err := inline(width, height, title, paint)
	if err != nil {
		return err
	}
	tag, body, _ := strings.Cut(string(drawing), ">")
	_, err = fmt.Fprintf(w, "%s xmlns=\"http://www.w3.org/2000/svg\">\n<style>\n%s\nsvg { background: var(--paper); }\ntext { font-family: \"Liberation Sans\", Arial, Arimo, Helvetica, sans-serif; }\n</style>\n%s\n",
		tag, colourRules(), body)
	return err
}

// colourRules takes the rules that set colours on screens from the page's
// style sheet: its first two.
func colourRules() string {
	roots := regexp.MustCompile(`(?s)^:root \{.*?\n\}\n@media \(prefers-color-scheme: dark\) \{.*?\n\}`)
	return roots.FindString(pageStyle)
}
