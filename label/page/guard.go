package page

import (
	"crypto/subtle"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"

	"strikerose/label"
)

// tokenHeader carries the token of this run.
const tokenHeader = "X-Strikerose-Token"

// maxBody is the longest body of a post, in bytes: a plan of some ten thousand
// strikes.
const maxBody = 1 << 20

// policy lets the page use its own files and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"media-src blob:; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"

// guard refuses what does not come from the page itself and sets the headers
// that every answer has.
func (p *Page) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if err := p.refusal(r); err != nil {
			refuse(w, http.StatusForbidden, err)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		next.ServeHTTP(w, r)
	})
}

// refusal tells why a request is not answered at all, nil if it is.
func (p *Page) refusal(r *http.Request) error {
	if !slices.Contains(p.o.Hosts, r.Host) {
		return fmt.Errorf("host %q is not this page: open http://%s", r.Host, p.o.Hosts[0])
	}
	safe := r.Method == http.MethodGet || r.Method == http.MethodHead
	api := strings.HasPrefix(r.URL.Path, "/api/")
	site := r.Header.Get("Sec-Fetch-Site")
	if (api || !safe) && site != "" && site != "same-origin" && (site != "none" || !safe) {
		return errors.New("asked for by another page")
	}
	if safe {
		return nil
	}
	if origin := r.Header.Get("Origin"); origin != "http://"+r.Host {
		return fmt.Errorf("origin %q is not this page", origin)
	}
	if subtle.ConstantTimeCompare([]byte(r.Header.Get(tokenHeader)), []byte(p.o.Token)) != 1 {
		return errToken
	}
	return nil
}

var errToken = errors.New("the token is not of this run: ask for a new one")

// asset serves one embedded file by its name.
func (p *Page) asset(name string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		data, err := assets.ReadFile(path.Join("assets", path.Base(name)))
		if err != nil || path.Base(name) != name {
			http.Error(w, "there is no such file", http.StatusNotFound)
			return
		}
		kind := map[string]string{".html": "text/html", ".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}[path.Ext(name)]
		charset := "; charset=utf-8"
		w.Header().Set("Content-Type", kind+charset)
		_, _ = w.Write(data) // the reader may be gone
	})
}

// badRequest is an error that sending again will not mend.
type badRequest struct{ err error }

func (e badRequest) Error() string { return e.err.Error() }
func (e badRequest) Unwrap() error { return e.err }

func badf(format string, args ...any) error { return badRequest{fmt.Errorf(format, args...)} }

// answer turns a function into a handler that answers in JSON.
func answer(f func(*http.Request) (any, error)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		value, err := f(r)
		if err != nil {
			refuse(w, statusOf(err), err)
			return
		}
		data, err := json.Marshal(value)
		if err != nil {
			refuse(w, http.StatusInternalServerError, err)
			return
		}
		w.Header().Set("Content-Type", "application/json")
		_, _ = w.Write(data)
	})
}

// statusOf tells the page whether to try again (5xx) or not (4xx).
func statusOf(err error) int {
	var bad badRequest
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge):
		return http.StatusRequestEntityTooLarge
	case errors.As(err, &bad):
		return http.StatusBadRequest
	case errors.Is(err, ErrUnknownSession):
		return http.StatusNotFound
	case errors.Is(err, label.ErrNoSuchAction), errors.Is(err, label.ErrBuried):
		return http.StatusConflict
	case errors.Is(err, ErrBusy):
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

func refuse(w http.ResponseWriter, status int, err error) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(struct {
		Error string `json:"error"`
		Token bool   `json:"token,omitempty"` // a new token is all that is missing
	}{err.Error(), errors.Is(err, errToken)})
}

// decode reads the JSON body of a post.
func decode(r *http.Request, into any) error {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return badf("content type %q: want application/json", r.Header.Get("Content-Type"))
	}
	dec := json.NewDecoder(r.Body)
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return badRequest{err}
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return badf("more than one value in the body")
	}
	return nil
}
