package kill

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
	"time"
)

const (
	labeller  = "dora"
	actions   = 5                    // confirmations that are sent to the page
	listening = 5 * time.Millisecond // between looks at whether the page listens
)

// label sends confirmations to the page whose first line stands in the file
// said, as a browser would, and returns the ids of those that the page called
// saved. It ends early when the page does, or when the page will never listen:
// gone is done then.
func label(ctx, gone context.Context, said string) (saved []string) {
	url := ""
	for url == "" {
		if text, err := os.ReadFile(said); err == nil && strings.Contains(string(text), "\n") {
			url = strings.Fields(string(text))[1]
		}
		select {
		case <-gone.Done():
			return nil
		case <-time.After(listening):
		}
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	var hello struct{ Token string }
	var view struct {
		Marks []struct {
			OnsetNs int64 `json:"onset_ns"`
		}
	}
	ask := func(method, path, body string, into any) bool {
		r, err := http.NewRequestWithContext(ctx, method, url+path, strings.NewReader(body))
		if err != nil {
			return false
		}
		r.Header.Set("Origin", url)
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("X-Strikerose-Token", hello.Token)
		answer, err := client.Do(r)
		if err != nil {
			return false
		}
		defer answer.Body.Close()
		data, err := io.ReadAll(answer.Body)
		return err == nil && answer.StatusCode == http.StatusOK && json.Unmarshal(data, into) == nil
	}
	if !ask("GET", "/api/hello", "", &hello) || !ask("GET", "/api/session?session=thursday", "", &view) {
		return nil
	}
	for i, mark := range view.Marks[:min(actions, len(view.Marks))] {
		id := fmt.Sprintf("action-%d", i)
		if !ask("POST", "/api/action", fmt.Sprintf(`{"session":"thursday","labeller":%q,"action":%q,"says":[{"onset_ns":%d,"face":%d,"band":"low"}]}`,
			labeller, id, mark.OnsetNs, 1+i), new(any)) {
			break
		}
		saved = append(saved, id)
	}
	return saved
}
