package read

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Bytes gives a file's bytes from the first on, each time that it is called. They must
// be the same each time.
type Bytes func() (io.ReadCloser, error)

// textForm is how text is written in bytes.
type textForm int

const (
	utf8Text  textForm = iota // with a mark or without
	narrow                    // code page 1252, in which every byte means something
	wideMark                  // UTF-16, its mark says of which order
	wideLow                   // UTF-16 without a mark, the low byte first
	wideHigh                  // the high one first
	formBytes = 400           // the first bytes of a text, which tell UTF-16
)

// textFormOf tells how text is written by its first bytes, and where they do not tell,
// whether all of it is valid UTF-8.
func textFormOf(first []byte, valid bool) textForm {
	if order, ok := wideWithoutMark(first); ok {
		if order == unicode.LittleEndian {
			return wideLow
		}
		return wideHigh
	}
	switch {
	case len(first) >= 2 && (first[0] == 0xff && first[1] == 0xfe || first[0] == 0xfe && first[1] == 0xff):
		return wideMark
	case valid:
		return utf8Text
	}
	return narrow
}

// A validText finds out whether bytes that are written to it are valid UTF-8.
type validText struct {
	rest  []byte // of a character whose end is still to come
	wrong bool
}

func (v *validText) Write(data []byte) (int, error) {
	n := len(data)
	if v.wrong {
		return n, nil
	}
	for len(v.rest) > 0 && len(data) > 0 {
		v.rest, data = append(v.rest, data[0]), data[1:]
		if utf8.FullRune(v.rest) {
			if r, size := utf8.DecodeRune(v.rest); r == utf8.RuneError && size == 1 || size != len(v.rest) {
				v.wrong = true
			}
			v.rest = v.rest[:0]
		}
	}
	end := len(data)
	for k := 1; k < utf8.UTFMax && k <= len(data); k++ {
		if tail := data[len(data)-k:]; utf8.RuneStart(tail[0]) {
			if !utf8.FullRune(tail) {
				end -= k
			}
			break
		}
	}
	v.wrong = v.wrong || !utf8.Valid(data[:end])
	v.rest = append(v.rest, data[end:]...)
	return n, nil
}

// valid reports whether all that was written is.
func (v *validText) valid() bool { return !v.wrong && len(v.rest) == 0 }

// csvInput is a table's text: whole, or to be read piece by piece.
type csvInput struct {
	whole string
	open  Bytes // nil: whole is all of it
	form  textForm
}

// wholeInput is the text of bytes.
func wholeInput(data []byte) *csvInput { return &csvInput{whole: csvDecode(data)} }

// longInput is a text that is read piece by piece: once now, for how it is written.
func longInput(open Bytes) (*csvInput, error) {
	in := &csvInput{open: open}
	from, err := open()
	if err != nil {
		return nil, err
	}
	first := make([]byte, formBytes)
	n, err := io.ReadFull(from, first)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, errors.Join(err, from.Close())
	}
	var all validText
	_, _ = all.Write(first[:n])
	if _, err := io.Copy(struct{ io.Writer }{&all}, from); err != nil {
		return nil, errors.Join(err, from.Close())
	}
	in.form = textFormOf(first[:n], all.valid())
	return in, from.Close()
}

// A text is read in pieces from firstPiece bytes on, each twice as long as the one
// before, up to longestPiece.
const (
	firstPiece   = 1 << 14
	longestPiece = 1 << 20
)

// scanner scans the text from its beginning; its end lets go of it.
func (in *csvInput) scanner(comma byte) (*csvScanner, error) {
	s := &csvScanner{text: in.whole, comma: comma}
	if in.open == nil {
		return s, nil
	}
	from, err := in.open()
	if err != nil {
		return nil, err
	}
	s.close = from.Close
	var text io.Reader = from
	switch in.form {
	case utf8Text:
		text, err = withoutMark(from)
	case narrow: // a mark of UTF-8 may stand before bytes that are none
		if text, err = withoutMark(from); err == nil {
			text = transform.NewReader(text, charmap.Windows1252.NewDecoder())
		}
	case wideMark:
		text = transform.NewReader(from, unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder())
	case wideLow:
		text = transform.NewReader(from, unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM).NewDecoder())
	case wideHigh:
		text = transform.NewReader(from, unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewDecoder())
	}
	if err != nil {
		return nil, errors.Join(err, from.Close())
	}
	size := firstPiece
	s.more = func(atLeast int) (string, error) {
		piece := make([]byte, max(atLeast, size))
		size = min(2*size, longestPiece)
		n, err := io.ReadFull(text, piece)
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			err = nil
		}
		if err != nil {
			err = fmt.Errorf("reading on in the sheet: %w", err)
		}
		return string(piece[:n]), err
	}
	return s, nil
}

// withoutMark leaves out the mark of UTF-8 at the beginning.
func withoutMark(from io.Reader) (io.Reader, error) {
	const mark = "\ufeff"
	text := bufio.NewReader(from)
	first, err := text.Peek(len(mark))
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if string(first) == mark {
		_, err = text.Discard(len(mark))
		return text, err
	}
	return text, nil
}

// csvRows gives the rows below a table's header, but for blank ones.
type csvRows struct {
	scan *csvScanner
}

// below begins below the header.
func (t *csvTable) below(in *csvInput) (*csvRows, error) {
	scan, err := in.scanner(t.comma)
	if err != nil {
		return nil, err
	}
	for range t.headerRow + 1 {
		scan.next()
	}
	return &csvRows{scan}, nil
}

// next gives the next row; false after the last.
func (r *csvRows) next() (csvRow, bool, error) {
	for {
		row, ok := r.scan.next()
		if !ok || r.scan.err != nil {
			return csvRow{}, false, r.scan.err
		}
		if !csvBlank(row.cells) {
			return row, true, nil
		}
	}
}

func (r *csvRows) close() error { return r.scan.end() }
