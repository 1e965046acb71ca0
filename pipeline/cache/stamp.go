package cache

import (
	"io/fs"
	"time"
)

// Stamp is what a file system tells of a file without reading it. Equal stamps
// are taken for equal content, as long as the stamp was Settled.
type Stamp struct {
	Size      int64  `json:"size"`
	ModNS     int64  `json:"mod_ns"`
	ChangeNS  int64  `json:"change_ns"` // of content, name or rights; 0 where the system does not tell
	Inode     uint64 `json:"inode"`     // 0 where the system does not tell
	Device    uint64 `json:"device"`    // 0 where the system does not tell
	IsRegular bool   `json:"regular"`
}

// coarsest is the coarsest step of time of a file system in use: FAT's two
// seconds.
const coarsest = 2 * time.Second

// StampOf is the stamp of a file.
func StampOf(info fs.FileInfo) Stamp {
	s := Stamp{Size: info.Size(), ModNS: info.ModTime().UnixNano(), IsRegular: info.Mode().IsRegular()}
	s.system(info)
	return s
}

// Settled says whether a file that was read from began on could still change
// under an equal stamp: it could when it was last written less than a step of
// the file system's clock before (git calls such entries racily clean). The
// stamp must be the same before and after reading.
func (s Stamp) Settled(began time.Time) bool {
	return s.IsRegular && max(s.ModNS, s.ChangeNS) <= began.Add(-coarsest).UnixNano()
}
