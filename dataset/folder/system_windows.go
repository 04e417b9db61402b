package folder

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
)

// Errors of Windows that package syscall has no names for.
const (
	errSharing      syscall.Errno = 32
	errWriteProtect syscall.Errno = 19
	errHandleFull   syscall.Errno = 39
	errDiskFull     syscall.Errno = 112
	errMapped       syscall.Errno = 1224
	errQuota        syscall.Errno = 1295
)

func full() []syscall.Errno     { return []syscall.Errno{errDiskFull, errHandleFull, errQuota} }
func readOnly() []syscall.Errno { return []syscall.Errno{errWriteProtect} }
func holding() []syscall.Errno {
	return []syscall.Errno{syscall.ERROR_ACCESS_DENIED, errSharing, errMapped}
}

// rename takes the place of a file that others have open through an os.Root, where
// the file system can do that; os.Rename never does.
func rename(from, to string) error {
	if dir := filepath.Dir(to); filepath.Dir(from) == dir {
		if root, err := os.OpenRoot(dir); err == nil {
			err = root.Rename(filepath.Base(from), filepath.Base(to))
			if errors.Join(err, root.Close()) == nil {
				return nil
			}
		}
	}
	return os.Rename(from, to)
}
