package study

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
)

// budget is what all archives of a study may still take.
type budget struct {
	members int
	nested  int64 // bytes of archives within archives
}

func newBudget() *budget { return &budget{mostMembers, mostNested} }

// listReader stops the reading of an archive's list of files that is too long.
type listReader struct {
	io.ReaderAt
	left int64
}

var errLongList = fmt.Errorf("its list of files is longer than %d MB; split it", longestList>>20)

func (l *listReader) ReadAt(p []byte, at int64) (int, error) {
	if l.left -= int64(len(p)); l.left < 0 {
		return 0, errLongList
	}
	return l.ReaderAt.ReadAt(p, at)
}

// openArchive reads an archive's list of files. Files that share their bytes,
// as those of archives do that unpack to more than they could hold, are refused.
func openArchive(from io.ReaderAt, size int64) (*zip.Reader, error) {
	list := &listReader{from, longestList}
	archive, err := zip.NewReader(list, size)
	if err != nil {
		if list.left < 0 {
			return nil, errLongList
		}
		return nil, err
	}
	list.left = math.MaxInt64
	packed := uint64(0)
	for _, f := range archive.File {
		if packed += f.CompressedSize64; packed > uint64(size) {
			return nil, errors.New("its files take more bytes than it has")
		}
	}
	return archive, nil
}

// archiveAt opens an archive on disk; the caller closes it.
func archiveAt(file string) (*zip.Reader, io.Closer, error) {
	opened, err := os.Open(file)
	if err != nil {
		return nil, nil, err
	}
	info, err := opened.Stat()
	if err != nil {
		return nil, nil, errors.Join(err, opened.Close())
	}
	archive, err := openArchive(opened, info.Size())
	if err != nil {
		return nil, nil, errors.Join(err, opened.Close())
	}
	return archive, opened, nil
}

// archiveIn opens an archive that lies in another one, in memory.
func (b *budget) archiveIn(member *zip.File) (*zip.Reader, error) {
	if b.nested -= int64(min(member.UncompressedSize64, largestMember)); b.nested < 0 {
		return nil, fmt.Errorf("archives within archives hold more than %d MB; unpack them", mostNested>>20)
	}
	data, err := source{member: member}.read()
	if err != nil {
		return nil, err
	}
	return openArchive(bytes.NewReader(data), int64(len(data)))
}

// findInFile looks into an archive on disk.
func (s *Study) findInFile(files *Files, rel, full string) {
	archive, closer, err := archiveAt(full)
	if err != nil {
		files.leave(rel, "an archive that cannot be opened: "+err.Error())
		return
	}
	files.open = append(files.open, closer)
	s.findIn(files, archive, rel, nil)
}

// findIn looks into an archive at rel that lies in the archives around it.
func (s *Study) findIn(files *Files, archive *zip.Reader, rel string, around []string) {
	if files.budget.members -= len(archive.File); files.budget.members < 0 {
		files.leave(rel, fmt.Sprintf("the study's archives hold more than %d files; split them", mostMembers))
		return
	}
	archives := append(slices.Clone(around), rel)
	seen := map[string]bool{}
	for _, member := range archive.File {
		name, skip, err := memberPath(member)
		if skip {
			continue
		}
		inside := rel + "/" + name
		switch {
		case err != nil:
			files.leave(inside, err.Error())
		case seen[inside]:
			files.leave(inside, "a second file of this path in the archive")
		case !isArchive(name):
			s.claim(files, inside, archives, source{member: member})
		case len(archives) >= deepestArchive:
			files.leave(inside, fmt.Sprintf("an archive in %d others; unpack them", len(archives)))
		default:
			inner, err := files.budget.archiveIn(member)
			if err != nil {
				files.leave(inside, "an archive that cannot be opened: "+err.Error())
				break
			}
			s.findIn(files, inner, inside, archives)
		}
		seen[inside] = true
	}
}
