package localpage

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lengthwise/pipeline/identity"
)

// list is one of the study's own CSV files, kept as it was written: columns
// and rows that the page knows nothing of stay where they are.
type list struct {
	comma  rune
	bom    bool
	header []string
	rows   [][]string
}

// parseList reads a list. It fails where the page could not write it back as
// it was: such a file is left to its owner's editor.
func parseList(data []byte) (*list, error) {
	l := &list{comma: ','}
	rest, bom := bytes.CutPrefix(data, []byte("\ufeff"))
	l.bom = bom
	first, _, _ := bytes.Cut(rest, []byte("\n"))
	for _, comma := range []rune{';', '\t'} {
		if bytes.ContainsRune(first, comma) && bytes.Count(first, []byte(string(comma))) > bytes.Count(first, []byte(string(l.comma))) {
			l.comma = comma
		}
	}
	r := csv.NewReader(bytes.NewReader(rest))
	r.Comma, r.FieldsPerRecord = l.comma, -1
	all, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, errors.New("it has no header")
	}
	l.header, l.rows = all[0], all[1:]
	return l, nil
}

// readList reads a list; a file that is not there is an empty list of the
// header.
func readList(file string, header ...string) (*list, error) {
	data, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return &list{comma: ',', header: header}, nil
	}
	if err != nil {
		return nil, err
	}
	l, err := parseList(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w; mend it in an editor", filepath.Base(file), err)
	}
	return l, nil
}

// column finds a column by its name, -1 where there is none.
func (l *list) column(name string) int {
	return slices.IndexFunc(l.header, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), name) })
}

// cell is the text of a row's column, "" where there is none.
func (l *list) cell(row int, name string) string {
	c := l.column(name)
	if c < 0 || c >= len(l.rows[row]) {
		return ""
	}
	return strings.TrimSpace(l.rows[row][c])
}

// set writes a cell and adds the column where there is none. What is there
// already is not touched.
func (l *list) set(row int, name, value string) {
	if l.cell(row, name) == value {
		return
	}
	c := l.column(name)
	if c < 0 {
		c = len(l.header)
		l.header = append(l.header, name)
	}
	for len(l.rows[row]) <= c {
		l.rows[row] = append(l.rows[row], "")
	}
	l.rows[row][c] = value
}

// row finds the row whose cell names the same as name does, -1 where none
// does.
func (l *list) row(column, name string) int {
	folded := identity.Fold(name)
	for i := range l.rows {
		if identity.Fold(l.cell(i, column)) == folded {
			return i
		}
	}
	return -1
}

// add appends a row and returns its number.
func (l *list) add() int {
	l.rows = append(l.rows, make([]string, len(l.header)))
	return len(l.rows) - 1
}

func (l *list) bytes() ([]byte, error) {
	var b bytes.Buffer
	if l.bom {
		b.WriteString("\ufeff")
	}
	w := csv.NewWriter(&b)
	w.Comma = l.comma
	if err := errors.Join(w.Write(l.header), w.WriteAll(l.rows)); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// replaceFile writes a file whole or not at all.
func replaceFile(target string, data []byte) (err error) {
	mode := fs.FileMode(0o644)
	if info, err := os.Stat(target); err == nil {
		mode = info.Mode().Perm()
	}
	temporary, err := os.CreateTemp(filepath.Dir(target), ".lengthwise-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(temporary.Name())
		}
	}()
	_, err = temporary.Write(data)
	if err = errors.Join(err, temporary.Chmod(mode), temporary.Sync(), temporary.Close()); err != nil {
		return err
	}
	return os.Rename(temporary.Name(), target)
}
