//go:build linux && (amd64 || arm64)

package kill

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"unsafe"
)

// canTrace tells whether processes can be stopped at their system calls here.
const canTrace = true

// What the kernel says of a system call, struct ptrace_syscall_info.
const (
	getSyscallInfo = 0x420e
	infoBytes      = 88
	infoEntry      = 1
	infoExit       = 2
	stoppedByCall  = syscall.SIGTRAP | 0x80
	stdout         = 1
	stderr         = 2
)

// call is a system call that a thread has begun.
type call struct {
	number uint64
	args   [6]uint64
}

// tracer follows all threads of one process and counts the system calls by
// which it changes files below a directory.
type tracer struct {
	pid   int
	root  string
	at    int // the call at which the process is killed, from 1; 0 never
	torn  bool
	begun map[int]call // by thread
	seen  []Point
	done  bool // killed
}

// traced runs a process to its end, or kills it right after the system call
// below root that c names. The command's streams must be files, since the
// process is waited for here.
func traced(cmd *exec.Cmd, root string, c cut, started func(*os.Process)) (ended, error) {
	type outcome struct {
		ended
		err error
	}
	out := make(chan outcome)
	go func() {
		runtime.LockOSThread() // only the thread that started a process may trace it; it ends with this goroutine
		t := &tracer{root: root, at: c.at, torn: c.torn, begun: make(map[int]call)}
		e, err := t.run(cmd, started)
		out <- outcome{e, err}
	}()
	o := <-out
	return o.ended, o.err
}

func (t *tracer) run(cmd *exec.Cmd, started func(*os.Process)) (ended, error) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Ptrace: true}
	if err := cmd.Start(); err != nil {
		return ended{}, err
	}
	t.pid = cmd.Process.Pid
	started(cmd.Process)
	var ws syscall.WaitStatus
	if _, err := syscall.Wait4(t.pid, &ws, syscall.WALL, nil); err != nil {
		return ended{}, fmt.Errorf("kill: %w", err)
	}
	const exitKill = 0x100000
	if err := syscall.PtraceSetOptions(t.pid, syscall.PTRACE_O_TRACESYSGOOD|syscall.PTRACE_O_TRACECLONE|exitKill); err != nil {
		return ended{}, errors.Join(fmt.Errorf("kill: %w", err), syscall.Kill(t.pid, syscall.SIGKILL))
	}
	tid, sig := t.pid, 0
	for {
		// A thread that is gone meanwhile needs no word.
		if err := syscall.PtraceSyscall(tid, sig); err != nil && !errors.Is(err, syscall.ESRCH) {
			return ended{}, fmt.Errorf("kill: %w", err)
		}
		for {
			var err error
			tid, err = syscall.Wait4(-1, &ws, syscall.WALL|syscall.WNOTHREAD, nil)
			if errors.Is(err, syscall.EINTR) {
				continue
			}
			if err != nil {
				return ended{}, fmt.Errorf("kill: %w", err)
			}
			if tid == t.pid && (ws.Exited() || ws.Signaled()) {
				return ended{seen: t.seen, killed: t.done && ws.Signaled(), status: ws.ExitStatus()}, nil
			}
			if ws.Stopped() {
				break
			}
		}
		if sig = t.stopped(tid, ws); t.done {
			if err := syscall.Kill(t.pid, syscall.SIGKILL); err != nil {
				return ended{}, fmt.Errorf("kill: %w", err)
			}
		}
	}
}

// stopped looks at why a thread stopped and returns the signal that it is to get.
func (t *tracer) stopped(tid int, ws syscall.WaitStatus) int {
	sig := ws.StopSignal()
	switch {
	case sig == stoppedByCall:
		t.atCall(tid)
		return 0
	case sig == syscall.SIGTRAP, sig == syscall.SIGSTOP: // a new thread
		return 0
	}
	return int(sig)
}

func (t *tracer) atCall(tid int) {
	var info [infoBytes]byte
	_, _, e := syscall.Syscall6(syscall.SYS_PTRACE, getSyscallInfo, uintptr(tid), infoBytes, uintptr(unsafe.Pointer(&info)), 0, 0)
	if e != 0 {
		return
	}
	word := func(i int) uint64 { return binary.NativeEndian.Uint64(info[24+8*i:]) }
	switch info[0] {
	case infoEntry:
		c := call{number: word(0)}
		for i := range c.args {
			c.args[i] = word(1 + i)
		}
		t.begun[tid] = c
	case infoExit:
		c, ok := t.begun[tid]
		delete(t.begun, tid)
		if failed := info[32] != 0; !ok || failed || t.done {
			return
		}
		p, changed := t.change(tid, c, word(0))
		if !changed {
			return
		}
		t.seen = append(t.seen, p)
		if len(t.seen) != t.at {
			return
		}
		t.done = true
		if t.torn && p.Call == "write" {
			t.tear(tid, int(c.args[0]), int64(word(0)))
		}
	}
}

// change tells whether a call that went well changed a file below the root.
func (t *tracer) change(tid int, c call, result uint64) (p Point, changed bool) {
	var path string
	switch c.number {
	case syscall.SYS_OPENAT:
		if c.args[2]&(syscall.O_CREAT|syscall.O_TRUNC) == 0 {
			return p, false
		}
		p.Call, path = "create", t.open(tid, int(result))
	case syscall.SYS_WRITE, syscall.SYS_PWRITE64:
		p.Call, path = "write", t.open(tid, int(c.args[0]))
		if c.args[0] == stdout || c.args[0] == stderr || strings.HasPrefix(path, "socket:") {
			return Point{Call: answer}, true
		}
	case syscall.SYS_FTRUNCATE:
		p.Call, path = "truncate", t.open(tid, int(c.args[0]))
	case syscall.SYS_FSYNC, syscall.SYS_FDATASYNC:
		p.Call, path = "sync", t.open(tid, int(c.args[0]))
	case syscall.SYS_FCHMOD:
		p.Call, path = "chmod", t.open(tid, int(c.args[0]))
	case syscall.SYS_RENAMEAT:
		p.Call, path = "rename", t.text(tid, c.args[3])
		p.From = t.text(tid, c.args[1])
	case syscall.SYS_UNLINKAT:
		p.Call, path = "remove", t.text(tid, c.args[1])
	case syscall.SYS_MKDIRAT:
		p.Call, path = "mkdir", t.text(tid, c.args[1])
	default:
		return p, false
	}
	rel, err := filepath.Rel(t.root, path)
	if err != nil || !filepath.IsLocal(rel) || !filepath.IsAbs(path) {
		return p, false
	}
	p.Where, p.Path = area(filepath.ToSlash(rel)), path
	return p, true
}

// open is the path of an open file.
func (t *tracer) open(tid, fd int) string {
	path, _ := os.Readlink(fmt.Sprintf("/proc/%d/fd/%d", tid, fd))
	return strings.TrimSuffix(path, " (deleted)")
}

// text reads a string of the process.
func (t *tracer) text(tid int, address uint64) string {
	f, err := os.Open(fmt.Sprintf("/proc/%d/mem", tid))
	if err != nil {
		return ""
	}
	defer f.Close()
	buf := make([]byte, 4096)
	n, err := f.ReadAt(buf, int64(address))
	if err != nil && n == 0 && !errors.Is(err, io.EOF) {
		return ""
	}
	s, _, _ := bytes.Cut(buf[:n], []byte{0})
	return string(s)
}

// tear takes back the second half of what was just written at a file's end.
func (t *tracer) tear(tid, fd int, written int64) {
	path := fmt.Sprintf("/proc/%d/fd/%d", tid, fd)
	if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() && info.Size() >= written {
		_ = os.Truncate(path, info.Size()-written/2-1)
		t.seen[len(t.seen)-1].Call = "half a write"
	}
}
