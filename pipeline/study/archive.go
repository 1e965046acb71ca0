package study

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// An archive is read in place, as if it were a folder: a file in
// inbox/squad.zip has the path inbox/squad.zip/marta/monday.fit. Nothing is
// unpacked to disk, so that no path in it can lead anywhere. These limits keep
// a hostile archive from filling the memory.
const (
	largestInput   = 1 << 30   // bytes of one file, packed or not
	largestMember  = 256 << 20 // bytes of one file out of an archive
	mostMembers    = 200_000   // files in one archive
	deepestArchive = 3         // archives within archives
)

// source is where a found file's bytes are.
type source struct {
	path   string    // on disk, when member is nil
	member *zip.File // in an archive
	packed bool      // by gzip
}

// ErrDamaged says that a packed file, or a file in an archive, cannot be
// unpacked: it is there, and its bytes are no good.
var ErrDamaged = errors.New("damaged where it is packed")

// read returns the bytes, or says in words why it cannot. What goes wrong in
// unpacking wraps ErrDamaged.
func (s source) read() ([]byte, error) {
	data, err := s.unpack()
	if err != nil && (s.packed || s.member != nil) && !errors.Is(err, fs.ErrNotExist) {
		err = fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return data, err
}

func (s source) unpack() (data []byte, err error) {
	var from io.ReadCloser
	limit := int64(largestInput)
	if s.member != nil {
		limit = largestMember
		from, err = s.member.Open()
	} else {
		from, err = os.Open(s.path)
	}
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	var stream io.Reader = from
	if s.packed {
		unpacked, err := gzip.NewReader(from)
		if err != nil {
			return nil, fmt.Errorf("it is not packed by gzip, though its name says so: %w", err)
		}
		stream, limit = unpacked, min(limit, largestMember)
	}
	data, err = io.ReadAll(io.LimitReader(stream, limit+1))
	if err != nil {
		return nil, err
	}
	if int64(len(data)) > limit {
		return nil, fmt.Errorf("it holds more than %d MB, the most that one input may; split it", limit>>20)
	}
	return data, nil
}

// isArchive tells a zip archive by its name.
func isArchive(rel string) bool { return strings.EqualFold(path.Ext(rel), ".zip") }

// withoutPacking is a path without the ending that gzip adds.
func withoutPacking(rel string) (plain string, packed bool) {
	if strings.EqualFold(path.Ext(rel), ".gz") {
		return rel[:len(rel)-len(".gz")], true
	}
	return rel, false
}

// archiveAt opens an archive on disk; the caller closes it.
func archiveAt(file string) (*zip.Reader, io.Closer, error) {
	opened, err := zip.OpenReader(file)
	if err != nil {
		return nil, nil, err
	}
	return &opened.Reader, opened, nil
}

// archiveIn opens an archive that lies in another one, in memory.
func archiveIn(member *zip.File) (*zip.Reader, error) {
	data, err := source{member: member}.read()
	if err != nil {
		return nil, err
	}
	return zip.NewReader(bytes.NewReader(data), int64(len(data)))
}

// errLocked marks a member that needs a password.
var errLocked = errors.New("it is locked with a password")

// memberPath is the path of an archive's member below the archive, or why it
// is not to be read; skip marks what is no file of the squad's at all.
func memberPath(f *zip.File) (rel string, skip bool, err error) {
	name := f.Name
	if f.NonUTF8 || !utf8.ValidString(name) {
		if name, err = charmap.CodePage437.NewDecoder().String(name); err != nil {
			return "", false, errors.New("its name cannot be read")
		}
	}
	name = strings.ReplaceAll(name, "\\", "/")
	if strings.HasSuffix(name, "/") || f.FileInfo().IsDir() {
		return "", true, nil
	}
	for _, element := range strings.Split(name, "/") {
		switch {
		case element == "__MACOSX" || strings.HasPrefix(element, ".") && element != ".." && element != ".":
			return "", true, nil
		case element == "" || element == "." || element == ".." || strings.ContainsRune(element, 0):
			return "", false, errors.New("its path in the archive leads out of it")
		}
	}
	const encrypted = 0x1
	switch {
	case f.Flags&encrypted != 0:
		return name, false, errLocked
	case !f.Mode().IsRegular():
		return name, false, errors.New("not a plain file")
	case f.UncompressedSize64 > largestMember:
		return name, false, fmt.Errorf("it holds more than %d MB, the most that one input out of an archive may", largestMember>>20)
	}
	return name, false, nil
}

// fitsKind tells by its ending whether a file may be of a kind of input. It is
// asked only where an input names an archive and not the files in it.
func fitsKind(rel string, kind InputKind) bool {
	plain, _ := withoutPacking(rel)
	ending := strings.ToLower(path.Ext(plain))
	if kind == Activity {
		return ending == ".fit"
	}
	return ending == ".csv" || ending == ".tsv" || ending == ".txt"
}
