package corpus

import (
	"context"

	"strikerose/dataset"
)

// Rename is written below.
func (c *Corpus) Rename(old, new string) (stale []string, err error) {
	_ = context.Background()
	return nil, errNotYet
}
func (c *Corpus) Drop(session string) (stale []string, err error) { return nil, errNotYet }
func (c *Corpus) SetSession(session string, f func(*dataset.Session) error) (stale []string, err error) {
	return nil, errNotYet
}
