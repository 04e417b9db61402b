// Package folder makes what happens in a folder outlast a loss of power, moves files
// that others read, and tells what its file system refused.
package folder

import (
	"errors"
	"fmt"
	"os"
	"runtime"
	"syscall"
	"time"
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

// Rename moves a file to a new name, in place of the file of that name. On Windows
// it waits up to two seconds for programs that have one of the two open: readers, and
// those that look for viruses.
func Rename(from, to string) error {
	return patiently(func() error { return rename(from, to) }, held, time.Sleep)
}

// Remove removes a file, as patiently.
func Remove(path string) error {
	return patiently(func() error { return os.Remove(path) }, held, time.Sleep)
}

// Full tells whether an error says that a disk, or the user's share of it, is full.
func Full(err error) bool { return isAny(err, full()) }

// ReadOnly tells whether an error says that a disk takes no writing.
func ReadOnly(err error) bool { return isAny(err, readOnly()) }

// held tells whether another program may hold a file.
func held(err error) bool { return isAny(err, holding()) }

func isAny(err error, of []syscall.Errno) bool {
	for _, e := range of {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}

// patiently tries something again while another program is in its way, for two
// seconds in all.
func patiently(try func() error, inTheWay func(error) bool, pause func(time.Duration)) error {
	const tries, between = 100, 20 * time.Millisecond
	err := try()
	for i := 1; i < tries && err != nil && inTheWay(err); i++ {
		pause(between)
		err = try()
	}
	if err != nil && inTheWay(err) {
		return fmt.Errorf("%w (another program may have it open)", err)
	}
	return err
}
