package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"strikerose/dataset"
	"strikerose/eval"
	"strikerose/eval/evaltest"
	"strikerose/eval/report"
)

// reportPage writes the page of a comparison of made-up strikes, on two rigs of
// which one has no gyroscope, and returns its file.
func reportPage(t *testing.T) string {
	t.Helper()
	sessions := append(evaltest.Sessions(2, 40),
		evaltest.Session{Name: "y1", Striker: "ann", Rig: evaltest.Rig("yard", 1, 0), Strikes: 40},
		evaltest.Session{Name: "y2", Striker: "bo", Rig: evaltest.Rig("yard", 2, 0), Strikes: 40})
	d := evaltest.Data(sessions, 1)
	for i := range d.Cases {
		d.Cases[i].Window = madeUpWindow(d.Cases[i].Rig.HasGyro())
	}
	c, err := eval.Compare(t.Context(), d, evaltest.Families(), eval.Options{Seed: 1, Resamples: 100})
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "page.html")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := report.HTML(f, c, report.Meta{Corpus: "a1b2", Contents: "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef", Tool: "strikerose", Command: "strikerose compare --leave session"}); err != nil {
		t.Fatal(err)
	}
	return path
}

// madeUpWindow is a push that decays.
func madeUpWindow(gyro bool) *dataset.Window {
	w := &dataset.Window{RateHz: 1000, Pre: 60}
	for i := range 260 {
		after := math.Max(0, float64(i-w.Pre))
		for axis := range 3 {
			w.A[axis] = append(w.A[axis], 2000*after/60*math.Exp(-after/6)*math.Cos(float64(axis)+after/9))
			if gyro {
				w.G[axis] = append(w.G[axis], math.Sin(float64(axis)+after/50))
			}
		}
	}
	return w
}

// faultsOfDrawings lists words of drawings that stick out of them, lie on one
// another or are too small to read.
const faultsOfDrawings = `(() => {
  const faults = [];
  for (const svg of document.querySelectorAll('svg.figure')) {
    const frame = svg.getBoundingClientRect();
    if (frame.width === 0) continue;
    const name = svg.getAttribute('aria-label').slice(0, 60);
    const words = [...svg.querySelectorAll('text')].map(t => ({ text: t.textContent, box: t.getBoundingClientRect() }));
    words.forEach((a, i) => {
      if (a.box.left < frame.left - 1 || a.box.right > frame.right + 1 || a.box.top < frame.top - 1 || a.box.bottom > frame.bottom + 1)
        faults.push(name + ': sticks out: ' + a.text);
      if (Math.min(a.box.height, a.box.width) < SMALL && a.text.length > 1) faults.push(name + ': too small: ' + a.text);
      for (const b of words.slice(i + 1)) {
        const wide = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
        const high = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
        if (wide > 2 && high > 4) faults.push(name + ': on one another: ' + a.text + ' and ' + b.text);
      }
    });
  }
  return [...new Set(faults)].slice(0, 12).join('\n');
})()`

// faultsOfWideTables lists tables that go on beyond the right edge without a sign of
// it, and on paper, where nothing scrolls, those with one.
const faultsOfWideTables = `(() => {
  const all = [...document.querySelectorAll('.scroll')];
  const signed = e => getComputedStyle(e).backgroundImage !== 'none';
  const wide = all.filter(e => e.scrollWidth > e.clientWidth);
  const wrong = PAPER ? all.filter(signed) : wide.filter(e => !signed(e));
  if (PHONE && wide.length === 0) return 'no table is wider than a phone';
  return wrong.map(e => e.getAttribute('aria-label')).join(', ');
})()`

// as makes the page look as on paper or on a dark screen.
const as = `(() => { for (const r of document.styleSheets[0].cssRules) if (r.media && r.media.mediaText.includes('MEDIUM')) r.media.mediaText = 'all'; return ''; })()`

// The page of a comparison fits a desk, a phone and paper, in light and dark, and
// its drawings can be read there. STRIKEROSE_KEEP_PAGES=DIR keeps pictures.
func TestReportFits(t *testing.T) {
	long(t)
	ctx := browser(t, 1280, 800)
	p := person{t, ctx}
	path := reportPage(t)
	for _, medium := range []struct {
		name, media   string
		width, height int64
	}{
		{"desk", "", 1280, 800},
		{"dark", "dark", 1280, 800},
		{"phone", "", 390, 844},
		{"paper", "print", 703, 1020}, // A4 within its margins
	} {
		p.do(chromedp.EmulateViewport(medium.width, medium.height), chromedp.Navigate("file://"+path))
		if medium.media != "" {
			p.reads(strings.Replace(as, "MEDIUM", medium.media, 1))
		}
		if got := p.reads("document.documentElement.scrollWidth <= innerWidth ? '' : document.documentElement.scrollWidth + ' px wide: ' + [...document.querySelectorAll('main *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest('.scroll')).slice(0, 3).map(e => e.outerHTML.slice(0, 80)).join(' | ')"); got != "" {
			t.Errorf("%s: %s", medium.name, got)
		}
		small := "8"
		if medium.media == "print" {
			small = "6" // points and pixels of paper are finer
		}
		if got := p.reads(strings.Replace(faultsOfDrawings, "SMALL", small, 1)); got != "" {
			t.Errorf("%s:\n%s", medium.name, got)
		}
		wide := strings.NewReplacer("PAPER", fmt.Sprint(medium.name == "paper"), "PHONE", fmt.Sprint(medium.name == "phone")).Replace(faultsOfWideTables)
		if got := p.reads(wide); got != "" {
			t.Errorf("%s: wide tables: %s", medium.name, got)
		}
		if dir := os.Getenv("STRIKEROSE_KEEP_PAGES"); dir != "" {
			picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(90))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "report-"+medium.name+".jpg"), picture, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
