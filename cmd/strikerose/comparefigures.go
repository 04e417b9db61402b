package main

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/eval/report"
)

// writeFigures writes figures into a directory, which is made where there is
// none: each as a drawing and as its numbers. Other files there stay.
func (a *app) writeFigures(dir string, figures []report.Figure) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("--figures: %w", err)
	}
	for _, f := range figures {
		base := filepath.Join(dir, "figure-"+f.Name)
		if err := a.writeOutput(base+".svg", f.SVG); err != nil {
			return err
		}
		if err := a.writeOutput(base+".csv", f.CSV); err != nil {
			return err
		}
	}
	a.note("wrote %s to %s", counted(len(figures), "figure"), dir)
	return nil
}

// compared is what a comparison of some sessions rests on.
type compared struct {
	digest    string // SHA-256 of the logs, as they came, the rigs and the label claims
	simulated int    // sessions whose labels call themselves simulated
}

func comparedOf(c *corpus.Corpus, sessions []dataset.Session) (compared, error) {
	var out compared
	h := sha256.New()
	for _, s := range sessions {
		claims, err := source{c}.Claims(s.Name)
		if err != nil {
			return out, err
		}
		r, err := c.Rig(s.Rig)
		if err != nil {
			return out, err
		}
		text, err := r.Encode()
		if err != nil {
			return out, err
		}
		fmt.Fprintf(h, "%s %s %s %x\n", s.Name, s.Rig, s.LogSHA256, sha256.Sum256(text))
		for _, claim := range claims {
			fmt.Fprintln(h, claim.ContentID())
		}
		if simulatedBy(claims) != "" {
			out.simulated++
		}
	}
	out.digest = fmt.Sprintf("%x", h.Sum(nil))
	return out, nil
}
