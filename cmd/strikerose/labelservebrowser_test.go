package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/corpus"
	"strikerose/dataset/datasettest"
	"strikerose/label"
)

// server is the page served by a process of its own, which can be killed.
type server struct {
	cmd *exec.Cmd
	url string
}

// startServer serves a corpus and waits until it listens.
func startServer(t *testing.T, addr string, args ...string) *server {
	t.Helper()
	cmd := program(t, append([]string{"label", "serve", "--addr", addr}, args...)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	words := strings.Fields(line)
	if err != nil || len(words) < 2 {
		t.Fatalf("label serve says %q, %v", line, err)
	}
	return &server{cmd, words[1]}
}

// kill ends the server without warning.
func (s *server) kill() {
	_ = s.cmd.Process.Kill()
	_ = s.cmd.Wait()
}

// browser starts a browser; width and height are of its window.
func browser(t *testing.T, width, height int) context.Context {
	t.Helper()
	path := datasettest.RequireTool(t, "chromium", "apt-get install chromium")
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WindowSize(width, height), chromedp.UserDataDir(t.TempDir()))...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	return ctx
}

// person drives the page by keyboard alone.
type person struct {
	t   *testing.T
	ctx context.Context
}

func (p person) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, steps...); err != nil {
		p.t.Fatal(err)
	}
}

// reads evaluates an expression in the page.
func (p person) reads(expression string) string {
	p.t.Helper()
	text, err := chromedp.Run(p.ctx, chromedp.Evaluate[string](expression))
	if err != nil {
		p.t.Fatal(err)
	}
	return text
}

func (p person) press(keys ...string) {
	p.t.Helper()
	for _, k := range keys {
		p.do(chromedp.KeyEvent(k))
	}
}

// sees waits until a piece of the page holds a text.
func (p person) sees(id, text string) {
	p.t.Helper()
	var got string
	for range 300 {
		got = p.reads(fmt.Sprintf("document.getElementById(%q).textContent", id))
		if strings.Contains(got, text) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.t.Fatalf("#%s holds %q, want %q in it", id, got, text)
}

// standingByHand lists the claims by hand that stand in a journal, in words.
func standingByHand(t *testing.T, gym, session string) []string {
	t.Helper()
	log, err := label.OpenJournal(filepath.Join(gym, "journal", session+".jsonl")).Read(t.Context())
	if err != nil || log.Err() != nil {
		t.Fatal(err, log.Err())
	}
	var out []string
	for _, c := range label.Standing(log.Claims) {
		if c.Source != label.Hand {
			continue
		}
		text := fmt.Sprintf("%s %.2f: face %d %s", c.Author, float64(c.OnsetNs)/1e9, c.Face, c.Band)
		if c.NotStrike {
			text = fmt.Sprintf("%s %.2f: not a strike", c.Author, float64(c.OnsetNs)/1e9)
		}
		if c.BearingDeg != nil {
			text += fmt.Sprintf(" %.0f°", *c.BearingDeg)
		}
		if c.HeightM != nil {
			text += fmt.Sprintf(" %.2f m", *c.HeightM)
		}
		if c.Kind != "" {
			text += " " + c.Kind
		}
		if c.Pair != "" {
			text += " " + c.Pair
		}
		if c.Note != "" {
			text += " (" + c.Note + ")"
		}
		out = append(out, text)
	}
	return out
}

// A person works through twenty strikes by keyboard: confirms, corrects,
// splits, rejects, adds, writes a note and undoes, while the server is killed
// and started again. The journal holds exactly what was confirmed.
func TestLabelByKeyboard(t *testing.T) {
	long(t)
	ctx := browser(t, 1280, 800)
	dir := fixture(t)
	gym := filepath.Join(dir, "gym")
	mustRun(t, "import", "-C", gym, "--rig", filepath.Join(dir, "hall.toml"), filepath.Join(dir, "monday.csv.zst"))
	mustRun(t, "find", "-C", gym)
	mustRun(t, "label", "plan", "-C", gym, "--session", "monday", filepath.Join(dir, "monday-plan.csv"))
	onset, planned := strikesOf(t, gym)

	s := startServer(t, "127.0.0.1:0", "-C", gym)
	p := person{t, ctx}
	p.do(chromedp.Navigate(s.url+"/session?name=monday"), chromedp.WaitReady("body[data-ready]"))
	p.sees("said", "Say who you are")
	p.do(chromedp.SendKeys("#labeller", "ann\r"))
	p.sees("which", "strike 1 of 40")

	want := map[int]string{} // by strike
	confirm := func(n int) {
		t.Helper()
		p.sees("which", fmt.Sprintf("strike %d of 40", n))
		p.press(kb.Enter)
		want[n] = planned[n]
	}
	for n := 1; n <= 4; n++ {
		confirm(n)
	}
	p.sees("which", "strike 5 of 40") // corrected: face, exact height, kind
	p.press("6", "b", kb.ArrowUp, kb.ArrowUp, kb.Enter)
	want[5] = strings.Replace(planned[5], "face 2 low", "face 6 mid 0.52 m", 1)
	p.sees("which", "strike 6 of 40") // a one-two: the second at another face
	p.press("s")
	p.sees("mode", "second strike")
	p.press("5", "b", kb.Enter)
	want[6] = planned[6] + " one"
	p.sees("which", "strike 7 of 40") // exact bearing
	p.press("1", kb.ArrowRight, kb.ArrowRight, kb.Enter)
	want[7] = strings.Replace(planned[7], "face 2 high", "face 1 high 4°", 1)
	confirm(8)

	s.kill() // what follows is not saved for a while
	confirm(9)
	p.sees("saved", "not saved yet")
	confirm(10)
	p.sees("which", "strike 11 of 40")
	p.press("x") // rejected
	want[11] = "not a strike"
	p.sees("saved", "not saved yet: no connection")
	confirm(12)
	confirm(13)
	s = startServer(t, strings.TrimPrefix(s.url, "http://"), "-C", gym)
	p.sees("saved", "all saved")
	p.sees("which", "strike 14 of 40")
	p.press("4", "b", "n", kb.Backspace) // a strike that is in no plan, with a note
	p.do(chromedp.KeyEvent("<script>document.title='run'</script>" + kb.Enter))
	p.press(kb.Enter)
	want[14] = "face 4 low (<script>document.title='run'</script>)"
	confirm(15)
	p.sees("which", "strike 16 of 40") // confirmed by mistake, undone, confirmed otherwise
	p.press("2", kb.Enter)
	p.sees("saved", "all saved")
	p.press("u")
	p.sees("which", "strike 16 of 40")
	p.sees("facts", "younothing yet")
	confirm(16)
	confirm(17)
	confirm(18)
	confirm(19)
	confirm(20)
	p.sees("which", "strike 21 of 40")
	p.press("d") // back, to add one that was missed in the middle of the view
	p.sees("which", "strike 20 of 40")
	p.press("a", "3", kb.Enter)
	p.sees("saved", "all saved")
	if title := p.reads("document.title"); title != "monday: strikerose" {
		t.Errorf("a note ran: the title is %q", title)
	}
	var lines []string
	for n, text := range want {
		lines = append(lines, fmt.Sprintf("ann %.2f: %s", onset[n], text))
	}
	got := standingByHand(t, gym, "monday")
	added := slices.DeleteFunc(slices.Clone(got), func(line string) bool { return slices.Contains(lines, line) })
	if len(added) != 2 || !strings.HasSuffix(added[0], ": face 5 low hook two") ||
		added[1] != fmt.Sprintf("ann %.2f: face 3 ", onset[20]+0.15) {
		t.Errorf("beside what was found the journal holds %q", added)
	}
	lines = append(lines, added...)
	slices.Sort(lines)
	slices.Sort(got)
	if diff := cmp.Diff(lines, got); diff != "" {
		t.Errorf("the journal (-want +got):\n%s", diff)
	}
	mustRun(t, "check", "-C", gym)
}

// strikesOf returns the onsets of the strikes found, in seconds, and what the
// plan says of each, by their numbers.
func strikesOf(t *testing.T, gym string) (onset map[int]float64, planned map[int]string) {
	t.Helper()
	c, err := corpus.Open(gym)
	if err != nil {
		t.Fatal(err)
	}
	strikes, _, err := c.Strikes("monday")
	if err != nil {
		t.Fatal(err)
	}
	log, err := label.OpenJournal(c.JournalPath("monday")).Read(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	onset, planned = map[int]float64{}, map[int]string{}
	for _, s := range strikes {
		onset[s.Number] = float64(s.OnsetNs) / 1e9
		for _, claim := range log.Claims {
			if claim.OnsetNs == s.OnsetNs {
				planned[s.Number] = strings.TrimSpace(fmt.Sprintf("face %d %s %s %s", claim.Face, claim.Band, claim.Kind, claim.Pair))
			}
		}
	}
	return onset, planned
}

// Bearings are shown from 0 to 359 degrees, those of timed truth too.
func TestBearingsOnThePage(t *testing.T) {
	long(t)
	ctx := browser(t, 1280, 800)
	gym, dir := gymWithStrikes(t)
	mustRun(t, "label", "truth", "-C", gym, "--session", "monday", "--author", "camera", filepath.Join(dir, "monday-truth.csv"))
	west := filepath.Join(dir, "west.csv")
	if err := os.WriteFile(west, []byte("session,onset_s,bearing_deg\nmonday,2.74,-0.3\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "label", "read", "-C", gym, "--labeller", "bo", west)
	s := startServer(t, "127.0.0.1:0", "-C", gym, "--labeller", "ann")
	p := person{t, ctx}
	p.do(chromedp.Navigate(s.url+"/session?name=monday"), chromedp.WaitReady("body[data-ready]"))
	p.sees("which", "strike 1 of 40")
	p.sees("facts", "timedface 4, 191°, low, 21 cm")
	p.sees("facts", "bo0°")
	p.press(kb.ArrowLeft)
	if got := p.reads("document.getElementById('bearing').value"); strings.HasPrefix(got, "-") || got == "" {
		t.Errorf("the form shows the bearing %q, want one from 0 to 359", got)
	}
}

// A sound from the person's disk is lined up with the traces by one clap and
// followed from there; at a phone's width nothing sticks out at the side.
func TestSoundBesideTraces(t *testing.T) {
	long(t)
	ctx := browser(t, 390, 844)
	gym, dir := gymWithStrikes(t)
	s := startServer(t, "127.0.0.1:0", "-C", gym, "--labeller", "ann")
	p := person{t, ctx}
	p.do(chromedp.EmulateViewport(390, 844), chromedp.Navigate(s.url+"/session?name=monday"), chromedp.WaitReady("body[data-ready]"))
	for _, path := range []string{"", "/", "/caller"} {
		if path != "" {
			p.do(chromedp.Navigate(s.url + path))
		}
		if got := p.reads("String(document.documentElement.scrollWidth <= innerWidth)"); got != "true" {
			t.Errorf("%s: wider than a phone", path)
		}
	}
	clap := filepath.Join(dir, "clap.wav")
	if err := os.WriteFile(clap, silence10s(), 0o644); err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.Navigate(s.url+"/session?name=monday"), chromedp.WaitReady("body[data-ready]"))
	p.sees("which", "strike 1 of 40")
	p.reads("document.getElementById('video').open = true, ''")
	p.do(chromedp.SetUploadFiles("#film", []string{clap}))
	p.sees("lined", "not marked")
	p.reads("document.getElementById('screen').currentTime = 2, document.getElementById('now').focus(), ''")
	p.press("M", "m")
	p.sees("lined", "Clap in the video: 2.000 s; in the traces: 2.741 s. Lined up")
	p.press("f")
	p.sees("which", "strike 2 of 40")
	var at string
	for range 100 {
		if at = p.reads("document.getElementById('screen').currentTime.toFixed(2)"); at == "3.42" {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("the sound stands at %s s, want 3.42", at)
}

// silence10s is ten seconds of silence as a WAV file of 8 bits at 8000 Hz.
func silence10s() []byte {
	const n = 80000
	var b bytes.Buffer
	le := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) } // a buffer takes all
	b.WriteString("RIFF")
	le(uint32(36 + n))
	b.WriteString("WAVEfmt ")
	le([]uint32{16})
	le([]uint16{1, 1})
	le([]uint32{8000, 8000})
	le([]uint16{1, 8})
	b.WriteString("data")
	le(uint32(n))
	b.Write(bytes.Repeat([]byte{128}, n))
	return b.Bytes()
}

// A plan is called out with its cautions read first, and the timed calls are
// kept in the corpus.
func TestCallOutPlan(t *testing.T) {
	long(t)
	ctx := browser(t, 1280, 800)
	gym, dir := gymWithStrikes(t)
	plan := filepath.Join(dir, "short.csv")
	if err := os.WriteFile(plan, []byte("order,face,band,kind,pair\n1,4,low,tap,\n2,1,high,hook,one\n3,2,mid,straight,two\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	s := startServer(t, "127.0.0.1:0", "-C", gym)
	p := person{t, ctx}
	p.do(chromedp.Navigate(s.url+"/caller"), chromedp.WaitReady("body[data-ready]"), chromedp.SetUploadFiles("#file", []string{plan}))
	p.sees("cautions", "Wear wraps and gloves")
	p.sees("plan", "short.csv: 3 strikes")
	if p.reads("String(document.getElementById('start').disabled)") != "true" {
		t.Error("it starts before the cautions were read")
	}
	p.do(chromedp.Clear("#pace"), chromedp.SendKeys("#pace", "0.8"), chromedp.Click("#ready"), chromedp.Click("#start"))
	p.sees("big", "4")
	p.sees("big", "1 · 2")
	p.sees("made", "3 of 3 strikes were called")
	p.do(chromedp.Click("#keep"))
	p.sees("kept", "calls/short-called.csv")
	data, err := os.ReadFile(filepath.Join(gym, "calls", "short-called.csv"))
	if err != nil {
		t.Fatal(err)
	}
	var first, second, both float64
	if n, err := fmt.Sscanf(string(data), "order,face,band,kind,pair,call_s\n1,4,low,tap,,%f\n2,1,high,hook,one,%f\n3,2,mid,straight,two,%f\n", &first, &second, &both); n != 3 || second != both || second-first < 0.5 {
		t.Errorf("kept (%v):\n%s", err, data)
	}
}
