package read

import (
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// csvRow is one row of a table: its cells and the line it starts on, from 1.
type csvRow struct {
	line  int
	part  string // which part of a wide row is meant, in words; "" for all of it
	cells []string
}

// longestQuoteBytes and longestQuoteLines bound a quoted cell. A quote that is
// open for longer was never meant to be one; without a bound a single stray
// quote would swallow the rest of the file.
const (
	longestQuoteBytes = 1 << 14
	longestQuoteLines = 40
)

// csvDecode gives text: UTF-16 with a byte-order mark or with the noughts that
// it has in western text, UTF-8 with or without a mark, else code page 1252, in
// which every byte means something.
func csvDecode(data []byte) string {
	if order, ok := wideWithoutMark(data); ok {
		if text, err := unicode.UTF16(order, unicode.IgnoreBOM).NewDecoder().Bytes(data); err == nil {
			return string(text)
		}
	}
	if textFormOf(data[:min(len(data), formBytes)], true) == wideMark {
		wide := unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder()
		if text, err := wide.Bytes(data); err == nil {
			return string(text)
		}
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	if utf8.ValidString(text) {
		return text
	}
	// The decoder maps every byte, the five that are not assigned to U+FFFD.
	narrow, err := charmap.Windows1252.NewDecoder().String(text)
	if err != nil {
		return strings.ToValidUTF8(text, "\uFFFD")
	}
	return narrow
}

// wideWithoutMark recognises UTF-16 by every other byte being nought.
func wideWithoutMark(data []byte) (unicode.Endianness, bool) {
	start := data[:min(len(data), formBytes)]
	if len(start) < 8 || start[0] >= 0xfe {
		return unicode.LittleEndian, false
	}
	var noughts [2]int
	for i, b := range start {
		if b == 0 {
			noughts[i%2]++
		}
	}
	switch half := len(start) / 2; {
	case noughts[1] > half*8/10 && noughts[0] == 0:
		return unicode.LittleEndian, true
	case noughts[0] > half*8/10 && noughts[1] == 0:
		return unicode.BigEndian, true
	}
	return unicode.LittleEndian, false
}

// csvScanner cuts text into rows. It accepts every text: a quote that closes
// nowhere, or not before a separator, is an ordinary character.
type csvScanner struct {
	text  string
	comma byte
	at    int
	line  int
	width int // cells of the row before

	more  func(atLeast int) (string, error) // what follows text, "" at the end; nil: nothing does
	close func() error                      // lets go of what more reads from
	err   error                             // of more
}

// lookAhead is how far behind the end of a row the scanner may look to find it. A row
// that ends nearer to the end of the text than that is read again with more of it.
const lookAhead = longestQuoteBytes + 4

// mostExpected bounds the room that is made for a row's cells before they are
// seen: one wide row must not make room for as many in each of those below.
const mostExpected = 64

// next gives the next row; false at the end of the text.
func (s *csvScanner) next() (csvRow, bool) {
	for {
		if s.err != nil { // nothing after a fault is read as if it were the next
			return csvRow{}, false
		}
		at, line := s.at, s.line
		row, ok := s.row()
		if s.more == nil || s.at <= len(s.text)-lookAhead {
			return row, ok
		}
		piece, err := s.more(len(s.text) - at)
		if s.err = err; err != nil {
			return csvRow{}, false
		}
		if piece == "" {
			s.more = nil
			return row, ok
		}
		s.text, s.at, s.line = s.text[at:]+piece, 0, line
	}
}

// end lets go of the text.
func (s *csvScanner) end() error {
	if s.close == nil {
		return nil
	}
	return s.close()
}

// row gives the next row of the text at hand.
func (s *csvScanner) row() (csvRow, bool) {
	if s.at >= len(s.text) {
		return csvRow{}, false
	}
	s.line++
	row := csvRow{line: s.line, cells: make([]string, 0, min(s.width, mostExpected))}
	defer func() { s.width = len(row.cells) }()
	for {
		cell, lines, end := s.cell()
		row.cells = append(row.cells, cell)
		s.at, s.line = end, s.line+lines
		if s.at >= len(s.text) {
			return row, true
		}
		sign := s.text[s.at]
		s.at++
		if sign == s.comma {
			continue // also after a separator at the very end: one more, empty cell
		}
		if sign == '\r' && s.at < len(s.text) && s.text[s.at] == '\n' {
			s.at++
		}
		return row, true
	}
}

// cell gives the cell at the scanner, the line ends inside it, and the offset
// of the sign that ends it.
func (s *csvScanner) cell() (cell string, lines, end int) {
	start := s.at
	for start < len(s.text) && s.text[start] == ' ' {
		start++
	}
	if start < len(s.text) && s.text[start] == '"' {
		if cell, lines, end, ok := s.quoted(start + 1); ok {
			return cell, lines, end
		}
	}
	end = s.at
	for end < len(s.text) && !s.ends(end) {
		end++
	}
	return s.text[s.at:end], 0, end
}

// quoted reads a quoted cell whose first character is at start.
func (s *csvScanner) quoted(start int) (cell string, lines, end int, ok bool) {
	limit := min(len(s.text), start+longestQuoteBytes)
	doubled := false
	for i := start; i < limit; i++ {
		switch s.text[i] {
		case '\n':
			if lines++; lines > longestQuoteLines {
				return "", 0, 0, false
			}
		case '"':
			if i+1 < len(s.text) && s.text[i+1] == '"' {
				doubled = true
				i++
				continue
			}
			after := i + 1
			for after < len(s.text) && s.text[after] == ' ' {
				after++
			}
			if after < len(s.text) && !s.ends(after) {
				return "", 0, 0, false
			}
			cell = s.text[start:i]
			if doubled {
				cell = strings.ReplaceAll(cell, `""`, `"`)
			}
			return cell, lines, after, true
		}
	}
	return "", 0, 0, false
}

// ends reports whether the sign at i ends a cell.
func (s *csvScanner) ends(i int) bool {
	return s.text[i] == s.comma || s.text[i] == '\n' || s.text[i] == '\r'
}
