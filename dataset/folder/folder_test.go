package folder

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func TestPatiently(t *testing.T) {
	held, other := errors.New("held"), errors.New("other")
	inTheWay := func(err error) bool { return err == held }
	for name, c := range map[string]struct {
		lasts int   // how many tries it is in the way
		then  error // what comes of the next
		want  error
		tries int
	}{
		"free":        {0, nil, nil, 1},
		"soon free":   {3, nil, nil, 4},
		"never free":  {1000, nil, held, 100},
		"fails":       {0, other, other, 1},
		"fails later": {2, other, other, 3},
	} {
		tries, waited := 0, time.Duration(0)
		err := patiently(func() error {
			tries++
			if tries <= c.lasts {
				return held
			}
			return c.then
		}, inTheWay, func(d time.Duration) { waited += d })
		if !errors.Is(err, c.want) || tries != c.tries || waited != time.Duration(c.tries-1)*20*time.Millisecond {
			t.Errorf("%s: %v after %d tries and %v, want %v after %d", name, err, tries, waited, c.want, c.tries)
		}
	}
}

func TestRename(t *testing.T) {
	dir := t.TempDir()
	a, b, below := filepath.Join(dir, "a"), filepath.Join(dir, "b"), filepath.Join(dir, "c", "b")
	if err := errors.Join(os.WriteFile(a, []byte("new"), 0o644), os.WriteFile(b, []byte("old"), 0o644), os.Mkdir(filepath.Dir(below), 0o755)); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(Rename(a, b), Rename(b, below)); err != nil {
		t.Fatal(err)
	}
	if data, err := os.ReadFile(below); err != nil || string(data) != "new" {
		t.Errorf("got %q, %v", data, err)
	}
	if err := Rename(a, b); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("renaming what is not there: %v", err)
	}
	if err := errors.Join(Remove(below), Sync(filepath.Dir(below))); err != nil {
		t.Error(err)
	}
	if err := Remove(below); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("removing what is not there: %v", err)
	}
}

// Each system's errors are told apart through what wraps them.
func TestKindsOfErrors(t *testing.T) {
	for _, e := range full() {
		if err := error(&fs.PathError{Op: "write", Path: "x", Err: e}); !Full(err) || ReadOnly(err) {
			t.Errorf("%v is not told as a full disk", err)
		}
	}
	for _, e := range readOnly() {
		if err := error(&fs.PathError{Op: "open", Path: "x", Err: e}); !ReadOnly(err) || Full(err) {
			t.Errorf("%v is not told as a disk that takes no writing", err)
		}
	}
	if Full(nil) || ReadOnly(nil) || Full(fs.ErrPermission) || ReadOnly(fs.ErrPermission) {
		t.Error("another error is told as one of these")
	}
}
