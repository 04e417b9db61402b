// Package folder makes what happens in a folder outlast a loss of power.
package folder

import (
	"errors"
	"os"
	"runtime"
	"syscall"
)

// Sync makes new names, renames and removals in a folder last. File systems that
// cannot sync a folder are left to do it in their own time.
func Sync(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		err = nil
	}
	return errors.Join(err, d.Close())
}
