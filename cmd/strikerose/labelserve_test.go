package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"strikerose/dataset/corpus"
	"strikerose/label"
)

// serving is the page served in this process until the test ends or stops it.
type serving struct {
	t     *testing.T
	url   string
	token string
	stop  func() (status int)
}

// serveLine starts a command line that serves the page.
func serveLine(t *testing.T, words ...string) *serving {
	t.Helper()
	out := &firstLine{line: make(chan string, 1)}
	errs := new(bytes.Buffer)
	ctx, cancel := context.WithCancel(t.Context())
	w := testWorld(new(bytes.Buffer), errs)
	w.out = out
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, words, w) }()
	s := &serving{t: t, stop: sync.OnceValue(func() int { cancel(); return <-ended })}
	t.Cleanup(func() { s.stop() })
	select {
	case line := <-out.line:
		s.url = strings.Fields(line)[1]
	case status := <-ended:
		ended <- status
		t.Fatalf("strikerose %s: exit status %d:\n%s", strings.Join(words, " "), status, errs)
	case <-time.After(20 * time.Second):
		t.Fatalf("strikerose %s does not listen", strings.Join(words, " "))
	}
	var hello struct{ Token string }
	s.ask("GET", "/api/hello", "", &hello)
	s.token = hello.Token
	return s
}

// firstLine hands over the first line written to it.
type firstLine struct {
	once sync.Once
	line chan string
}

func (f *firstLine) Write(b []byte) (int, error) {
	f.once.Do(func() { f.line <- string(b) })
	return len(b), nil
}

// ask sends a request as the page would and reads the answer into a value.
func (s *serving) ask(method, path, body string, into any) {
	s.t.Helper()
	r, err := http.NewRequestWithContext(s.t.Context(), method, s.url+path, strings.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	r.Header.Set("Origin", s.url)
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("X-Strikerose-Token", s.token)
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	data, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK {
		s.t.Fatalf("%s %s: %s, %v: %s", method, path, resp.Status, err, data)
	}
	if err := json.Unmarshal(data, into); err != nil {
		s.t.Fatal(err)
	}
}

// gymWithStrikes is a corpus with the strikes of one recording.
func gymWithStrikes(t *testing.T) (gym, dir string) {
	t.Helper()
	dir = fixture(t)
	gym = filepath.Join(dir, "gym")
	mustRun(t, "import", "-C", gym, "--rig", filepath.Join(dir, "hall.toml"), filepath.Join(dir, "monday.csv.zst"))
	mustRun(t, "find", "-C", gym)
	return gym, dir
}

// Labels by hand are listed, compared with and checked like any others.
func TestHandLabelsCount(t *testing.T) {
	long(t)
	gym, dir := gymWithStrikes(t)
	mustRun(t, "import", "-C", gym, "--rig", filepath.Join(dir, "hall.toml"), filepath.Join(dir, "friday.bin.zst"))
	mustRun(t, "find", "-C", gym, "--sessions", "friday")
	s := serveLine(t, "label", "serve", "-C", gym, "--addr", "127.0.0.1:0")
	labelled := 0
	for _, session := range []string{"monday", "friday"} {
		mustRun(t, "label", "plan", "-C", gym, "--session", session, filepath.Join(dir, session+"-plan.csv"))
		var v struct {
			Marks []struct {
				OnsetNs int64 `json:"onset_ns"`
				Says    []struct {
					Face int
					Band string
				}
			}
		}
		s.ask("GET", "/api/session?session="+session, "", &v)
		for i, m := range v.Marks {
			if len(m.Says) == 0 {
				continue
			}
			labelled++
			s.ask("POST", "/api/action", fmt.Sprintf(`{"session":%q,"labeller":"ann","action":"a%d","says":[{"onset_ns":%d,"face":%d,"band":%q}]}`,
				session, i, m.OnsetNs, m.Says[0].Face, m.Says[0].Band), new(any))
		}
	}
	if status := s.stop(); status != exitDone {
		t.Errorf("stopped, label serve ends with status %d", status)
	}
	out := mustRun(t, "label", "list", "-C", gym, "-o", "-")
	if n := strings.Count(out, ",hand,"); n != labelled || labelled < 80 || strings.Contains(out, ",plan,") {
		t.Errorf("label list shows %d labels by hand, want %d:\n%s", n, labelled, out)
	}
	out = mustRun(t, "compare", "-C", gym, "--truth", "hand", "--detectors", "kick-direction", "--leave", "session", "--json")
	if !strings.Contains(out, "kick-direction") {
		t.Errorf("compare with labels by hand:\n%s", out)
	}
	mustRun(t, "check", "-C", gym)
}

// Two people label at once, while commands write the same session: nobody's
// word is lost.
func TestTwoLabellers(t *testing.T) {
	gym, _ := gymWithStrikes(t)
	onset, _ := strikesOf(t, gym)
	var servers []*serving // of one machine, even two of them
	for range 2 {
		servers = append(servers, serveLine(t, "label", "serve", "-C", gym, "--addr", "127.0.0.1:0"))
	}
	var all sync.WaitGroup
	for k, name := range []string{"ann", "ben"} {
		all.Go(func() {
			for n := 1; n <= 12; n++ {
				servers[k].ask("POST", "/api/action", fmt.Sprintf(`{"session":"monday","labeller":%q,"action":"%s%d","says":[{"onset_ns":%.0f,"face":%d}]}`,
					name, name, n, onset[n]*1e9, 1+n%6), new(any))
			}
		})
	}
	all.Wait()
	c, err := corpus.Open(gym)
	if err != nil {
		t.Fatal(err)
	}
	log, err := label.OpenJournal(c.JournalPath("monday")).Read(t.Context())
	if err != nil || log.Err() != nil || len(log.Torn) > 0 {
		t.Fatal(err, log.Err(), log.Torn)
	}
	count := map[string]int{}
	for _, claim := range label.Standing(log.Claims) {
		count[claim.Author]++
	}
	if count["ann"] != 12 || count["ben"] != 12 {
		t.Errorf("claims %v, want 12 of each", count)
	}
	mustRun(t, "check", "-C", gym)
}

// Estimates come stretch by stretch and are those of apply.
func TestPageEstimates(t *testing.T) {
	long(t)
	gym, dir := gymWithStrikes(t)
	rule := filepath.Join(dir, "rule.json")
	mustRun(t, "train", "-C", gym, "--detector", "kick-direction", "-o", rule)
	s := serveLine(t, "label", "serve", "-C", gym, "--addr", "127.0.0.1:0", "--detector", rule)
	var v struct {
		Estimated bool
		Marks     []struct {
			Number   int
			Estimate *struct {
				Face       int
				BearingDeg float64 `json:"bearing_deg"`
			}
		}
	}
	for range 200 {
		if s.ask("GET", "/api/session?session=monday", "", &v); v.Estimated {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	rows := applyRows(t, gym, rule)
	if len(rows) != len(v.Marks) {
		t.Fatalf("%d marks, apply finds %d strikes", len(v.Marks), len(rows))
	}
	for i, m := range v.Marks {
		if m.Estimate == nil || bearingText(m.Estimate.BearingDeg) != rows[i][3] || fmt.Sprint(m.Estimate.Face) != rows[i][4] {
			t.Errorf("strike %d: estimate %+v, apply says %v", m.Number, m.Estimate, rows[i])
		}
	}
}

func TestServeRefuses(t *testing.T) {
	gym, dir := gymWithStrikes(t)
	for _, c := range []struct {
		args []string
		want int
		says string
	}{
		{[]string{"--addr", "0.0.0.0:0"}, exitUsage, "other machines"},
		{[]string{"--addr", ":0"}, exitUsage, "other machines"},
		{[]string{"--addr", "192.168.1.5:7420"}, exitUsage, "other machines"},
		{[]string{"--addr", "[::]:0"}, exitUsage, "other machines"},
		{[]string{"--addr", "example.com:80"}, exitUsage, "other machines"},
		{[]string{"--addr", "127.0.0.1"}, exitUsage, "HOST:PORT"},
		{[]string{"--addr", "127.0.0.1:99999"}, exitFailed, "hint: another port"},
		{[]string{"--wanted", "0"}, exitUsage, "--wanted 0"},
		{[]string{"--detector", filepath.Join(dir, "none.json")}, exitFailed, "none.json"},
		{[]string{"--plan", filepath.Join(dir, "none.csv")}, exitFailed, "none.csv"},
		{[]string{"-C", filepath.Join(dir, "nowhere")}, exitFailed, "corpus.toml"},
	} {
		status, _, errs := inProcess(t, append([]string{"label", "serve", "-C", gym}, c.args...)...)
		if status != c.want || !strings.Contains(errs, c.says) {
			t.Errorf("label serve %v: exit status %d, want %d with %q:\n%s", c.args, status, c.want, c.says, errs)
		}
	}
	s := serveLine(t, "label", "serve", "-C", gym, "--addr", "127.0.0.1:0")
	if status, _, errs := inProcess(t, "label", "serve", "-C", gym, "--addr", strings.TrimPrefix(s.url, "http://")); status != exitFailed || !strings.Contains(errs, "hint: another port") {
		t.Errorf("a port in use: exit status %d:\n%s", status, errs)
	}
}

// Calls that the page keeps are a plan that label plan reads, and no stranger
// to check.
func TestKeptCalls(t *testing.T) {
	gym, dir := gymWithStrikes(t)
	s := serveLine(t, "label", "serve", "-C", gym, "--addr", "127.0.0.1:0", "--plan", filepath.Join(dir, "monday-plan.csv"))
	var plan struct{ Entries []map[string]any }
	s.ask("GET", "/api/plan?rig=hall-r1", "", &plan)
	body, err := json.Marshal(map[string]any{"name": "monday-called", "rig": "hall-r1", "entries": plan.Entries})
	if err != nil {
		t.Fatal(err)
	}
	var kept struct{ Where string }
	s.ask("POST", "/api/calls", string(body), &kept)
	path := filepath.Join(gym, kept.Where)
	if _, err := os.Stat(path); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "label", "plan", "-C", gym, "--session", "monday", path)
	mustRun(t, "check", "-C", gym)
}
