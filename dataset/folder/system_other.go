//go:build !windows

package folder

import (
	"os"
	"syscall"
)

func full() []syscall.Errno     { return []syscall.Errno{syscall.ENOSPC, syscall.EDQUOT} }
func readOnly() []syscall.Errno { return []syscall.Errno{syscall.EROFS} }

// holding is empty: nothing holds a file against its renaming or removal.
func holding() []syscall.Errno { return nil }

func rename(from, to string) error { return os.Rename(from, to) }
