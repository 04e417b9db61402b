package page_test

import (
	"net/http"
	"strings"
	"testing"

	"strikerose/label"
)

// state is what the tests look at in a session's answer.
type state struct {
	Marks []struct {
		Number  int   `json:"number"`
		OnsetNs int64 `json:"onset_ns"`
		Says    []struct {
			Source, Author string
			Face           int
			Band           string
			Note           string
		} `json:"says"`
		Doubt string `json:"doubt"`
	} `json:"marks"`
	Actions []struct {
		ID string `json:"id"`
	} `json:"actions"`
}

func TestActions(t *testing.T) {
	f := newFake(t, 5)
	p := serve(t, f)
	act := func(body string) state {
		t.Helper()
		return answer[state](t, p, http.MethodPost, "/api/action", body)
	}
	const first = `{"session":"monday","labeller":"ann","action":"a1","says":[{"onset_ns":500000000,"bearing_deg":-58,"height_m":0.5,"kind":"hook"}]}`
	s := act(first)
	if m := s.Marks[0]; len(m.Says) != 1 || m.Says[0].Face != 6 || m.Says[0].Band != "mid" || m.Says[0].Author != "ann" || len(s.Actions) != 1 {
		t.Errorf("after a claim: %+v", s)
	}
	if c := f.claims[0]; *c.BearingDeg != 302 || c.Source != label.Hand || c.Confidence != 1 || c.Kind != "hook" || c.At.Year() != 2026 {
		t.Errorf("claim %+v", c)
	}
	if act(first); len(f.claims) != 1 {
		t.Errorf("sent twice, the journal has %d claims", len(f.claims))
	}
	act(`{"session":"monday","labeller":"ben","action":"b1","says":[{"onset_ns":500000000,"face":2}]}`)
	if s = act(`{"session":"monday","labeller":"ann","action":"a2","says":[{"onset_ns":1000000000,"face":2,"band":"low"},{"onset_ns":1180000000,"face":3,"pair":"two"}]}`); s.Marks[0].Doubt != "labels disagree" {
		t.Errorf("two labellers who disagree: doubt %q", s.Marks[0].Doubt)
	}
	if m := s.Marks[2]; m.Number != 0 || m.OnsetNs != 1180000000 || len(s.Marks) != len(f.strikes)+1 {
		t.Errorf("a strike that was not found: %+v", m)
	}
	if c := f.claims[2]; c.BearingSDDeg != label.AimSDDeg || c.HeightSDM != label.AimSDM {
		t.Errorf("a claim of face and band says %+v", c)
	}
	s = act(`{"session":"monday","labeller":"ann","action":"u1","undoes":"a2"}`)
	if len(s.Marks) != len(f.strikes) || len(s.Marks[1].Says) != 0 || len(s.Actions) != 1 {
		t.Errorf("after an undo: %+v", s)
	}
	before := len(f.claims)
	for body, want := range map[string]int{
		`{"session":"tuesday","labeller":"ann","action":"x","says":[{"onset_ns":5,"face":1}]}`:                                  404,
		`{"session":"monday","labeller":"","action":"x","says":[{"onset_ns":5,"face":1}]}`:                                      400,
		`{"session":"monday","labeller":" ann","action":"x","says":[{"onset_ns":5,"face":1}]}`:                                  400,
		`{"session":"monday","labeller":"a\u0007","action":"x","says":[{"onset_ns":5,"face":1}]}`:                               400,
		`{"session":"monday","labeller":"ann","action":"","says":[{"onset_ns":5,"face":1}]}`:                                    400,
		`{"session":"monday","labeller":"ann","action":"x"}`:                                                                    400,
		`{"session":"monday","labeller":"ann","action":"x","undoes":"a1","says":[{"onset_ns":5,"face":1}]}`:                     400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5}]}`:                                            400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"face":7}]}`:                                   400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"face":-1}]}`:                                  400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"band":"roof"}]}`:                              400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"height_m":1.2}]}`:                             400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"bearing_deg":1e999}]}`:                        400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":-5,"face":1}]}`:                                  400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":9000000000,"face":1}]}`:                          400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"face":1,"kind":"kick"}]}`:                     400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"face":1,"pair":"three"}]}`:                    400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"face":1}],"more":1}`:                          400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"face":1}]} {}`:                                400,
		`{"session":"monday","labeller":"ann","action":"x","says":[{"onset_ns":5,"note":"` + strings.Repeat("n", 3000) + `"}]}`: 400,
		`{"session":"monday","labeller":"ann","action":"x","undoes":"b1"}`:                                                      409,
		`{"session":"monday","labeller":"ann","action":"x","undoes":"a2"}`:                                                      409,
	} {
		if w := ask(p, http.MethodPost, "/api/action", body, nil); w.Code != want || !strings.Contains(w.Body.String(), `"error"`) {
			t.Errorf("%.120s: status %d, want %d: %s", body, w.Code, want, w.Body)
		}
	}
	if len(f.claims) != before {
		t.Errorf("refused actions left %d claims", len(f.claims)-before)
	}
	f.busy = true // the page tries again on 5xx
	if w := ask(p, http.MethodPost, "/api/action", strings.Replace(first, `"a1"`, `"a9"`, 1), nil); w.Code != http.StatusServiceUnavailable {
		t.Errorf("beside another writer: status %d", w.Code)
	}
}

func TestOverview(t *testing.T) {
	f := newFake(t, 5)
	p := serve(t, f)
	for _, body := range []string{
		`{"session":"monday","labeller":"ann","action":"1","says":[{"onset_ns":500000000,"face":2,"band":"low"}]}`,
		`{"session":"monday","labeller":"ann","action":"2","says":[{"onset_ns":1000000000,"not_strike":true}]}`,
		`{"session":"monday","labeller":"ann","action":"3","says":[{"onset_ns":1250000000,"face":2,"band":"low"}]}`,
	} {
		answer[state](t, p, http.MethodPost, "/api/action", body)
	}
	type overview struct {
		Sessions []struct{ Found, Labelled, Rejected, Planned, Doubtful, Missed int }
		Roses    []struct {
			Count  [][]int
			Wanted int
		}
	}
	o := answer[overview](t, p, http.MethodGet, "/api/sessions", "")
	if s := o.Sessions[0]; s.Found != 9 || s.Labelled != 2 || s.Rejected != 1 || s.Missed != 1 || s.Planned != 0 || s.Doubtful != 0 {
		t.Errorf("progress %+v", s)
	}
	if r := o.Roses[0]; r.Wanted != 2 || len(r.Count) != 6 || r.Count[1][0] != 2 || r.Count[0][0] != 0 {
		t.Errorf("coverage %+v", r)
	}
}

func TestCaller(t *testing.T) {
	f := newFake(t, 5)
	p := serve(t, f)
	type plan struct {
		Entries []struct {
			Order, Face int
			Band, Kind  string
		}
	}
	got := answer[plan](t, p, http.MethodPost, "/api/plan", `{"name":"p.csv","rig":"garage-r1","text":"order,face,band,kind\n1,4,low,tap\n2,1,high,hook\n"}`)
	if len(got.Entries) != 2 || got.Entries[1].Face != 1 {
		t.Errorf("plan %+v", got)
	}
	for body, want := range map[string]string{
		`{"name":"p.csv","rig":"garage-r1","text":"order,face,band,kind\n1,9,low,tap\n"}`: "p.csv:2:3: face 9 is not on rig garage-r1",
		`{"name":"p.csv","rig":"attic-r1","text":""}`:                                     "attic-r1",
	} {
		if w := ask(p, http.MethodPost, "/api/plan", body, nil); w.Code != 400 || !strings.Contains(w.Body.String(), want) {
			t.Errorf("plan: status %d, %s, want %q", w.Code, w.Body, want)
		}
	}
	if w := ask(p, http.MethodGet, "/api/plan?rig=garage-r1", "", nil); w.Code != 400 {
		t.Errorf("a plan that was not given: status %d", w.Code)
	}
	kept := answer[struct{ Where string }](t, p, http.MethodPost, "/api/calls",
		`{"name":"p-called","rig":"garage-r1","entries":[{"order":1,"face":4,"band":"low","kind":"tap","call_s":0},{"order":2,"face":1,"band":"high","kind":"hook","call_s":3.1}]}`)
	if want := "order,face,band,kind,pair,call_s\n1,4,low,tap,,0.000\n2,1,high,hook,,3.100\n"; kept.Where != "calls/p-called.csv" || f.calls != want {
		t.Errorf("kept %q as %s, want %q", f.calls, kept.Where, want)
	}
	for _, body := range []string{
		`{"name":"x","rig":"garage-r1","entries":[{"order":1,"face":9,"band":"low","kind":"tap"}]}`,
		`{"name":"x","rig":"garage-r1","entries":[]}`,
		`{"name":"x","rig":"garage-r1","entries":[{"order":1,"face":1,"band":"low","kind":"tap","call_s":5},{"order":2,"face":1,"band":"low","kind":"tap","call_s":4}]}`,
	} {
		if w := ask(p, http.MethodPost, "/api/calls", body, nil); w.Code != 400 {
			t.Errorf("%s: status %d, want 400", body, w.Code)
		}
	}
}
