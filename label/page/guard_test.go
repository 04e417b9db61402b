package page_test

import (
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Only the page itself is answered.
func TestGuard(t *testing.T) {
	p := serve(t, newFake(t, 5))
	const act = `{"session":"monday","labeller":"ann","action":"a","says":[{"onset_ns":500000000,"face":1}]}`
	for name, c := range map[string]struct {
		method, path, body string
		header             map[string]string
		want               int
	}{
		"page":                  {"GET", "/", "", nil, 200},
		"page by localhost":     {"GET", "/", "", map[string]string{"Host": "localhost:7420"}, 200},
		"another host":          {"GET", "/", "", map[string]string{"Host": "evil.example"}, 403},
		"another port":          {"GET", "/", "", map[string]string{"Host": "127.0.0.1:80"}, 403},
		"no host":               {"GET", "/", "", map[string]string{"Host": ""}, 403},
		"typed":                 {"GET", "/api/hello", "", map[string]string{"Sec-Fetch-Site": "none"}, 200},
		"link from elsewhere":   {"GET", "/", "", map[string]string{"Sec-Fetch-Site": "cross-site"}, 200},
		"read from elsewhere":   {"GET", "/api/hello", "", map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		"read from a neighbour": {"GET", "/api/sessions", "", map[string]string{"Sec-Fetch-Site": "same-site"}, 403},
		"act":                   {"POST", "/api/action", act, nil, 200},
		"act from elsewhere":    {"POST", "/api/action", act, map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		"act as typed":          {"POST", "/api/action", act, map[string]string{"Sec-Fetch-Site": "none"}, 403},
		"other origin":          {"POST", "/api/action", act, map[string]string{"Origin": "http://evil.example"}, 403},
		"null origin":           {"POST", "/api/action", act, map[string]string{"Origin": "null"}, 403},
		"no origin":             {"POST", "/api/action", act, map[string]string{"Origin": ""}, 403},
		"old token":             {"POST", "/api/action", act, map[string]string{"X-Strikerose-Token": "old"}, 403},
		"no token":              {"POST", "/api/action", act, map[string]string{"X-Strikerose-Token": ""}, 403},
		"a form":                {"POST", "/api/action", act, map[string]string{"Content-Type": "text/plain"}, 400},
		"too long":              {"POST", "/api/action", `{"session":"` + strings.Repeat("x", 2<<20) + `"}`, nil, 413},
		"other method":          {"PUT", "/api/action", act, nil, 403},
		"get of a post":         {"GET", "/api/action", "", nil, 405},
		"asset":                 {"GET", "/assets/page.css", "", nil, 200},
		"no such asset":         {"GET", "/assets/none.css", "", nil, 404},
		"path up":               {"GET", "/assets/..%2fpage.go", "", nil, 404},
		"path far up":           {"GET", "/assets/%2e%2e%2f%2e%2e%2fetc%2fpasswd", "", nil, 404},
		"backslashes":           {"GET", `/assets/..%5cpage.go`, "", nil, 404},
		"folder":                {"GET", "/assets/", "", nil, 404},
		"nowhere":               {"GET", "/etc/passwd", "", nil, 404},
		"session up":            {"GET", "/api/session?session=../../etc/passwd", "", nil, 404},
		"traces of a path":      {"GET", "/api/traces?session=..%2f&from_ns=0&to_ns=1&columns=5", "", nil, 404},
	} {
		w := ask(p, c.method, c.path, c.body, c.header)
		if w.Code != c.want {
			t.Errorf("%s: status %d, want %d: %.200s", name, w.Code, c.want, w.Body)
		}
		if policy := w.Header().Get("Content-Security-Policy"); !strings.HasPrefix(policy, "default-src 'none'; script-src 'self'; style-src 'self';") || strings.Contains(policy, "unsafe") {
			t.Errorf("%s: policy %q", name, policy)
		}
		for header, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store"} {
			if got := w.Header().Get(header); got != want {
				t.Errorf("%s: %s is %q, want %q", name, header, got, want)
			}
		}
	}
	w := ask(p, "POST", "/api/action", act, map[string]string{"X-Strikerose-Token": "old"})
	if !strings.Contains(w.Body.String(), `"token":true`) {
		t.Errorf("an old token is not told from other refusals: %s", w.Body)
	}
}

// The embedded files run nothing inline, fetch nothing from elsewhere and never
// turn text into markup.
func TestAssetsAreSelfContained(t *testing.T) {
	bad := map[string]*regexp.Regexp{
		".html": regexp.MustCompile(`(?i)\son\w+=|style=|<style|<script(?:\s[^>]*)?>[^<]|https?://|src="//|javascript:`),
		".css":  regexp.MustCompile(`(?i)https?://|url\(|@import`),
		".js":   regexp.MustCompile(`innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(|new Function|https?://`),
	}
	n := 0
	err := filepath.WalkDir("assets", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if re := bad[filepath.Ext(path)]; re != nil {
			n++
			if at := re.Find(text); at != nil {
				t.Errorf("%s holds %q", path, at)
			}
		}
		return nil
	})
	if err != nil || n < 8 {
		t.Errorf("%d files looked at, %v", n, err)
	}
}

// What people write comes back as data that no browser takes for markup.
func TestTextStaysText(t *testing.T) {
	p := serve(t, newFake(t, 5))
	const hostile = `<script>alert(1)</script><img src=x onerror=alert(1)>`
	w := ask(p, http.MethodPost, "/api/action", `{"session":"monday","labeller":"<b>ann</b>","action":"a","says":[{"onset_ns":500000000,"face":1,"note":"`+hostile+`"}]}`, nil)
	if w.Code != 200 || w.Header().Get("Content-Type") != "application/json" || strings.Contains(w.Body.String(), "<") {
		t.Errorf("status %d, %s: %s", w.Code, w.Header().Get("Content-Type"), w.Body)
	}
	if !strings.Contains(w.Body.String(), `\u003cscript\u003e`) {
		t.Errorf("the note is lost: %s", w.Body)
	}
}
