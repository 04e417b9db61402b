package kill

import (
	"strings"
	"testing"
)

func TestUnsynced(t *testing.T) {
	const folder, temp, final = "/w/gym/raw", "/w/gym/raw/.a.tmp-1", "/w/gym/raw/a"
	create, write, sync := Point{Call: "create", Path: temp}, Point{Call: "write", Path: temp}, Point{Call: "sync", Path: temp}
	rename, syncFolder, said := Point{Call: "rename", From: temp, Path: final}, Point{Call: "sync", Path: folder}, Point{Call: answer}
	for name, tc := range map[string]struct {
		points []Point
		want   string
	}{
		"as it should be":        {[]Point{create, write, sync, rename, syncFolder, said}, ""},
		"file not synced":        {[]Point{create, write, rename, syncFolder, said}, "was written and was renamed before it was synced"},
		"written after the sync": {[]Point{create, sync, write, rename, syncFolder, said}, "was written and was renamed before it was synced"},
		"folder not synced":      {[]Point{create, write, sync, rename, said}, "holds the renamed entry a"},
		"synced after the word":  {[]Point{create, write, sync, rename, said, syncFolder}, "holds the renamed entry a"},
		"no word, not synced":    {[]Point{create, write, sync, rename}, "holds the renamed entry a"},
		"removed, not synced":    {[]Point{{Call: "remove", Path: final}, said}, "no longer holds the entry a"},
		"made, not synced":       {[]Point{{Call: "mkdir", Path: folder}, said}, "holds the new folder raw"},
		"a lock":                 {[]Point{{Call: "create", Path: "/w/gym/.locks/raw.lock"}, said}, ""},
	} {
		got := strings.Join(Unsynced(tc.points), "; ")
		if (tc.want == "") != (got == "") || !strings.Contains(got, tc.want) {
			t.Errorf("%s: got %q, want %q", name, got, tc.want)
		}
	}
}

func TestArea(t *testing.T) {
	for rel, want := range map[string]string{
		"gym/raw/a.zst": "raw", "gym": "corpus", "gym/samples/rig=a-r1": "samples", "gym/.corpus.toml.tmp-1": "corpus.toml",
		"output/x.json": "output", "tmp/strikerose-1/log": "tmp",
	} {
		if got := area(rel); got != want {
			t.Errorf("%s: got %q, want %q", rel, got, want)
		}
	}
}
