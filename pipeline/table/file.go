package table

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// A File is one table open for reading: a Parquet file, or several of the same
// shape read one after the other (the buckets of a large table). Its methods
// may be called from several goroutines at once, except Close.
type File struct {
	closers []io.Closer
	groups  []*Group
	columns []Column
	index   map[string]int
	meta    map[string]string
	rows    int64
}

// A Group is one row group of a [File], the unit of reading: at most
// [RowsPerGroup] rows in the files that this package writes.
type Group struct {
	file  *File
	path  string // for errors
	group parquet.RowGroup
	first int64 // rows before it
}

// ErrShape says that a Parquet file is not a table of the kind this package
// writes: flat, with columns of the types of [Type] only, or that several
// files of one table differ in their columns.
var ErrShape = errors.New("not a table of this tool")

// Open opens the table in one Parquet file, or in several read in the order
// given. Damaged files give an error here or when a column is read.
func Open(paths ...string) (*File, error) {
	if len(paths) == 0 {
		return nil, errors.New("no table file to open")
	}
	f := &File{}
	for _, path := range paths {
		if err := f.openPart(path); err != nil {
			f.Close()
			return nil, err
		}
	}
	return f, nil
}

func (f *File) openPart(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("opening a table: %w", err)
	}
	f.closers = append(f.closers, file)
	info, err := file.Stat()
	if err != nil {
		return fmt.Errorf("opening a table: %w", err)
	}
	return f.addPart(file, info.Size(), path)
}

// OpenReaderAt opens the table in the size bytes of r; name stands for it in
// errors. Close does not close r.
func OpenReaderAt(r io.ReaderAt, size int64, name string) (*File, error) {
	f := &File{}
	if err := f.addPart(r, size, name); err != nil {
		return nil, err
	}
	return f, nil
}

func (f *File) addPart(r io.ReaderAt, size int64, path string) (err error) {
	defer recoverDamage(&err, path)
	if err := checkFooter(r, size); err != nil {
		return fmt.Errorf("%s: opening as Parquet: %w", path, err)
	}
	part, err := parquet.OpenFile(r, size,
		parquet.SkipBloomFilters(true), parquet.SkipPageIndex(true))
	if err != nil {
		return fmt.Errorf("%s: opening as Parquet: %w", path, err)
	}
	if err := checkPages(r, size, part.Metadata().RowGroups); err != nil {
		return fmt.Errorf("%s: damaged Parquet file: %w", path, err)
	}
	meta := make(map[string]string)
	for _, kv := range part.Metadata().KeyValueMetadata {
		meta[kv.Key] = kv.Value
	}
	columns, err := columnsOf(part.Root(), meta[metaColumns])
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if f.columns == nil {
		f.columns, f.meta = columns, meta
		f.index = make(map[string]int, len(columns))
		for i, c := range columns {
			f.index[c.Name] = i
		}
	} else if err := sameColumns(f.columns, columns); err != nil {
		return fmt.Errorf("%s: %w: it differs from the table's first file: %w", path, ErrShape, err)
	}
	for _, group := range part.RowGroups() {
		if group.NumRows() < 0 || f.rows > math.MaxInt64-group.NumRows() {
			return fmt.Errorf("%s: damaged Parquet file: a row group of %d rows", path, group.NumRows())
		}
		f.groups = append(f.groups, &Group{file: f, path: path, group: group, first: f.rows})
		f.rows += group.NumRows()
	}
	return nil
}

// checkFooter compares the length of the footer, which a Parquet file states
// before its last four bytes, with the file's: the library would make room for
// any length, up to 4 GB, before it found out.
func checkFooter(r io.ReaderAt, size int64) error {
	var end [8]byte
	const least = 4 + 8 // the magic word, the footer's length, the magic word
	if size < least {
		return fmt.Errorf("%d bytes are too few for a Parquet file", size)
	}
	if _, err := r.ReadAt(end[:], size-8); err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	if footer := int64(binary.LittleEndian.Uint32(end[:4])); footer > size-least {
		return fmt.Errorf("it is cut short or damaged: a footer of %d bytes in a file of %d", footer, size)
	}
	return nil
}

// recoverDamage turns a panic of the Parquet library on damaged bytes into an
// error about the file.
func recoverDamage(err *error, path string) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("%s: damaged Parquet file: %v", path, p)
	}
}

// Close closes the files that Open opened.
func (f *File) Close() error {
	var errs []error
	for _, c := range f.closers {
		errs = append(errs, c.Close())
	}
	f.closers = nil
	return errors.Join(errs...)
}

// Name is the table's name as its file gives it, empty when it gives none.
func (f *File) Name() string { return f.meta[metaTable] }

// About says what one row is, empty when the file does not.
func (f *File) About() string { return f.meta[metaAbout] }

// SchemaID is the id that the file carries, see [SchemaID].
func (f *File) SchemaID() string { return f.meta[metaSchema] }

// Rows is the number of rows.
func (f *File) Rows() int64 { return f.rows }

// Groups gives the row groups in order; there are none without rows.
func (f *File) Groups() []*Group { return append([]*Group(nil), f.groups...) }

// Columns gives the columns in their order on disk. Units, meanings and keys
// come from the file's metadata and are empty when it has none.
func (f *File) Columns() []Column { return append([]Column(nil), f.columns...) }

// Column gives one column by name; the error for an unknown one names those
// that there are.
func (f *File) Column(name string) (Column, error) {
	i, err := f.lookup(name)
	if err != nil {
		return Column{}, err
	}
	return f.columns[i], nil
}

// Select gives the named columns in the order asked for, or all for no names.
func (f *File) Select(names []string) ([]Column, error) {
	if len(names) == 0 {
		return f.Columns(), nil
	}
	columns := make([]Column, 0, len(names))
	for _, name := range names {
		c, err := f.Column(name)
		if err != nil {
			return nil, err
		}
		columns = append(columns, c)
	}
	return columns, nil
}

func (f *File) lookup(name string) (int, error) {
	if i, ok := f.index[name]; ok {
		return i, nil
	}
	names := make([]string, len(f.columns))
	for i, c := range f.columns {
		names[i] = c.Name
	}
	return 0, fmt.Errorf("table %q has no column %q; it has %s", f.Name(), name, strings.Join(names, ", "))
}

// Rows is the number of rows in the group.
func (g *Group) Rows() int64 { return g.group.NumRows() }

// First is the number of the table's rows that come before the group.
func (g *Group) First() int64 { return g.first }

// columnsOf reads the columns from a Parquet schema, and their units, meanings
// and keys from the metadata where it names the same columns.
func columnsOf(root *parquet.Column, described string) ([]Column, error) {
	var columns []Column
	for _, leaf := range root.Columns() {
		t, err := typeOf(leaf)
		if err != nil {
			return nil, fmt.Errorf("%w: column %q: %w", ErrShape, leaf.Name(), err)
		}
		columns = append(columns, Column{Name: leaf.Name(), Type: t, Nullable: leaf.Optional()})
	}
	if len(columns) == 0 {
		return nil, fmt.Errorf("%w: it has no columns", ErrShape)
	}
	if described == "" {
		return columns, nil
	}
	var said []Column
	if err := json.Unmarshal([]byte(described), &said); err != nil {
		return nil, fmt.Errorf("%w: the metadata %s cannot be read: %w", ErrShape, metaColumns, err)
	}
	if err := sameColumns(columns, said); err != nil {
		return nil, fmt.Errorf("%w: the metadata %s describes other columns: %w", ErrShape, metaColumns, err)
	}
	return said, nil
}

func typeOf(leaf *parquet.Column) (Type, error) {
	if !leaf.Leaf() || leaf.Repeated() {
		return "", errors.New("it is nested or repeated")
	}
	logical := leaf.Type().LogicalType()
	switch kind := leaf.Type().Kind(); {
	case kind == parquet.Boolean:
		return Boolean, nil
	case kind == parquet.Double:
		return Double, nil
	case kind == parquet.ByteArray && leaf.Type().String() == "STRING":
		return String, nil
	case kind == parquet.Int32 && (logical == nil || leaf.Type().String() == "INT(32,true)"):
		return Int32, nil
	case kind == parquet.Int64 && (logical == nil || leaf.Type().String() == "INT(64,true)"):
		return Int64, nil
	case kind == parquet.Int64 && leaf.Type().String() == timestampType:
		return Timestamp, nil
	}
	return "", fmt.Errorf("type %s is none of string, boolean, int32, int64, double, timestamp (ms, UTC)", leaf.Type())
}

const timestampType = "TIMESTAMP(isAdjustedToUTC=true,unit=MILLIS)"

// sameColumns compares names, types and null flags in order.
func sameColumns(want, got []Column) error {
	if len(want) != len(got) {
		return fmt.Errorf("%d columns instead of %d", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if g.Name != w.Name || g.Type != w.Type || g.Nullable != w.Nullable {
			return fmt.Errorf("column %d is %q (%s, nullable %t) instead of %q (%s, nullable %t)",
				i+1, g.Name, g.Type, g.Nullable, w.Name, w.Type, w.Nullable)
		}
	}
	return nil
}
