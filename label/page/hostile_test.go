package page_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// FuzzRequest: whatever is asked, in whatever way, nothing panics, every answer
// has the headers that keep a browser from running it, what is refused is refused
// as the asker's fault, and only the page itself adds claims, valid ones.
func FuzzRequest(f *testing.F) {
	const act = `{"session":"monday","labeller":"ann","action":"a","says":[{"onset_ns":500000000,"face":1,"note":"x"}]}`
	for _, seed := range []struct{ method, target, host, token, body string }{
		{"POST", "/api/action", host, "secret", act},
		{"POST", "/api/action", host, "secret", act[:40]},
		{"POST", "/api/action", host, "secret", act + "{}"},
		{"POST", "/api/action", host, "old", act},
		{"POST", "/api/action", "evil.example", "secret", act},
		{"POST", "/api/action", host, "secret", strings.Repeat(`{"says":`, 20_000)},
		{"POST", "/api/action", host, "secret", `{"session":"monday","labeller":"ann","action":"a","says":[{"onset_ns":1e999,"bearing_deg":-1e308,"height_m":1e308}]}`},
		{"POST", "/api/action", host, "secret", `{"session":"monday","labeller":"a\u001bb","action":"a","undoes":"b"}`},
		{"POST", "/api/plan", host, "secret", `{"name":"p.csv","rig":"garage-r1","text":"order,face,band,kind\n1,1,low,hook\n"}`},
		{"POST", "/api/calls", host, "secret", `{"name":"../../p","rig":"garage-r1","entries":[{"order":1,"face":1,"band":"low","kind":"hook","call_s":1e300}]}`},
		{"GET", "/api/traces?session=monday&from_ns=0&to_ns=1000000000&columns=100", host, "", ""},
		{"GET", "/api/traces?session=monday&from_ns=-9223372036854775808&to_ns=9223372036854775807&columns=4000", host, "", ""},
		{"GET", "/api/session?session=monday&labeller=%1b%5b2J", host, "", ""},
		{"GET", "/assets/..%2f..%2fpage.go", host, "", ""},
		{"HEAD", "/", "localhost:7420", "", ""},
		{"DELETE", "/api/action", host, "secret", ""},
	} {
		f.Add(seed.method, seed.target, seed.host, seed.token, seed.body)
	}
	f.Fuzz(func(t *testing.T, method, target, from, token, body string) {
		u, err := url.ParseRequestURI(target)
		if err != nil {
			return // the server itself refuses it
		}
		c := newFake(t, 2)
		p := serve(t, c)
		r := &http.Request{Method: method, URL: u, Host: from, Header: http.Header{}, Body: io.NopCloser(strings.NewReader(body)), ContentLength: int64(len(body))}
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Origin", "http://"+from)
		r.Header.Set("X-Strikerose-Token", token)
		w := httptest.NewRecorder()
		p.ServeHTTP(w, r.WithContext(t.Context()))
		if w.Code >= 500 {
			t.Errorf("status %d: %s", w.Code, w.Body)
		}
		if h := w.Header(); !strings.HasPrefix(h.Get("Content-Security-Policy"), "default-src 'none'") || h.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("headers %v", h)
		}
		if w.Header().Get("Content-Type") == "application/json" && !json.Valid(w.Body.Bytes()) {
			t.Errorf("no JSON: %s", w.Body)
		}
		if len(c.claims) > 0 && (method != http.MethodPost || token != "secret" || from != host && from != "localhost:7420") {
			t.Errorf("%s %s of %q with token %q adds %v", method, target, from, token, c.claims)
		}
		for _, one := range c.claims {
			if err := one.Validate(); err != nil {
				t.Error(err)
			}
		}
	})
}
