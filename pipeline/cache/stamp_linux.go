package cache

import (
	"io/fs"
	"syscall"
)

// system adds what only the system's own answer holds.
func (s *Stamp) system(info fs.FileInfo) {
	if t, ok := info.Sys().(*syscall.Stat_t); ok {
		s.ChangeNS, s.Inode, s.Device = t.Ctim.Nano(), t.Ino, uint64(t.Dev)
	}
}
