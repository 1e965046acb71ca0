package study

import (
	"archive/zip"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"path"
	"strings"
	"unicode"
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
	mostMembers    = 200_000   // files in all archives of a study
	mostNested     = 1 << 30   // bytes of all archives that lie in others: they are kept in memory
	longestList    = 32 << 20  // bytes of one archive's list of files
	longestName    = 1_000     // bytes of a path in an archive
	deepestArchive = 3         // archives within archives
	// A file that is packed to less than a hundredth, and large, is no recording:
	// activity files pack to a third, sheets to a tenth (from memory).
	tightest, tightFrom = 100, 16 << 20
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
// unpacking wraps ErrDamaged; the bytes before it are returned with it.
func (s source) read() (data []byte, err error) {
	data, err = s.unpack()
	return data, s.damaged(err)
}

// plain reports whether the bytes are those on disk.
func (s source) plain() bool { return !s.packed && s.member == nil }

// damaged marks an error of unpacking.
func (s source) damaged(err error) error {
	if err != nil && !s.plain() && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return err
}

func (s source) unpack() (data []byte, err error) {
	from, limit, err := s.open()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	data, err = io.ReadAll(io.LimitReader(from, limit+1))
	if int64(len(data)) > limit {
		return nil, tooLong(limit)
	}
	return data, err
}

func tooLong(limit int64) error {
	return fmt.Errorf("it holds more than %d MB, the most that one input may; split it", limit>>20)
}

// open opens the bytes, of which there may be no more than limit.
func (s source) open() (_ io.ReadCloser, limit int64, err error) {
	limit = largestInput
	var from io.ReadCloser
	if s.member != nil {
		limit = largestMember
		from, err = s.member.Open()
	} else {
		from, err = os.Open(s.path)
	}
	if err != nil || !s.packed {
		return from, limit, err
	}
	unpacked, err := gzip.NewReader(from)
	if err != nil {
		return nil, 0, errors.Join(fmt.Errorf("it is not packed by gzip, though its name says so: %w", err), from.Close())
	}
	return packedFile{unpacked, from}, min(limit, largestMember), nil
}

// packedFile is a file as it unpacks.
type packedFile struct {
	*gzip.Reader
	from io.Closer
}

func (p packedFile) Close() error { return errors.Join(p.Reader.Close(), p.from.Close()) }

// bounded gives no more bytes than a limit, and an error beyond.
type bounded struct {
	io.ReadCloser
	source      source
	left, limit int64
}

func (b *bounded) Read(into []byte) (int, error) {
	n, err := b.ReadCloser.Read(into)
	if b.left -= int64(n); b.left < 0 {
		err = tooLong(b.limit)
	}
	if err == io.EOF {
		return n, err
	}
	return n, b.source.damaged(err)
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

// errLocked marks a member that needs a password.
var errLocked = errors.New("it is locked with a password")

// memberPath is the path of an archive's member below the archive, or why it
// is not to be read; skip marks what is no file of the squad's at all.
func memberPath(f *zip.File) (rel string, skip bool, err error) {
	name := strings.ReplaceAll(memberName(f), "\\", "/")
	if len(name) > longestName {
		return name[:20] + "...", false, fmt.Errorf("its path is longer than %d bytes", longestName)
	}
	if strings.ContainsFunc(name, unicode.IsControl) {
		return strings.Map(func(r rune) rune {
			if unicode.IsControl(r) {
				return '?'
			}
			return r
		}, name), false, errors.New("its name holds characters that cannot be shown; rename it")
	}
	if strings.HasSuffix(name, "/") || f.FileInfo().IsDir() {
		return "", true, nil
	}
	for _, element := range strings.Split(name, "/") {
		switch {
		case element == "__MACOSX" || strings.HasPrefix(element, ".") && element != ".." && element != ".":
			return "", true, nil
		case element == "" || element == "." || element == "..":
			return name, false, errors.New("its path in the archive leads out of it")
		}
	}
	const encrypted = 0x1
	switch {
	case f.Flags&encrypted != 0:
		return name, false, errLocked
	case !f.Mode().IsRegular():
		return name, false, errors.New("not a plain file")
	case f.Method != zip.Store && f.Method != zip.Deflate:
		return name, false, fmt.Errorf("it is packed in a way that is not read (method %d); pack it again as a plain zip", f.Method)
	case f.UncompressedSize64 > tightFrom && f.UncompressedSize64 > tightest*max(1, f.CompressedSize64):
		return name, false, fmt.Errorf("it unpacks to more than %d times its size, which no recording does", tightest)
	case f.UncompressedSize64 > largestMember:
		return name, false, fmt.Errorf("it holds more than %d MB, the most that one input out of an archive may", largestMember>>20)
	}
	return name, false, nil
}

// memberName is a member's name: in UTF-8 where it is valid, whatever its flag
// says, or where an extra field has it (Info-ZIP's 0x7075); else in code page 850,
// in which Western Windows writes names.
func memberName(f *zip.File) string {
	const unicodePath, header = 0x7075, 5 // version and checksum before the name
	for extra := f.Extra; len(extra) >= 4; {
		id, size := binary.LittleEndian.Uint16(extra), int(binary.LittleEndian.Uint16(extra[2:]))
		if extra = extra[4:]; size > len(extra) {
			break
		}
		if field := extra[:size]; id == unicodePath && size > header && field[0] == 1 &&
			binary.LittleEndian.Uint32(field[1:]) == crc32.ChecksumIEEE([]byte(f.Name)) && utf8.Valid(field[header:]) {
			return string(field[header:])
		}
		extra = extra[size:]
	}
	if utf8.ValidString(f.Name) {
		return f.Name
	}
	name, err := charmap.CodePage850.NewDecoder().String(f.Name)
	if err != nil {
		return strings.ToValidUTF8(f.Name, "?")
	}
	return name
}

// otherArchive tells an archive of a kind that is not looked into by its name.
func otherArchive(rel string) bool {
	plain, _ := withoutPacking(rel)
	switch strings.ToLower(path.Ext(plain)) {
	case ".tar", ".tgz", ".7z", ".rar", ".bz2", ".xz", ".zst":
		return true
	}
	return false
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
