package table

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"reflect"

	"github.com/parquet-go/parquet-go"

	"lengthwise/schemas"
)

// RowsPerGroup is the number of rows in each row group but the last. It is a
// multiple of the batch handed to the Parquet library, and the row-group size
// for which analytical readers are commonly tuned.
const RowsPerGroup = 122_880

// batchRows is how many rows reach the Parquet library at a time. The library
// closes pages between calls, so a fixed batch makes the bytes independent of
// how callers cut their rows.
const batchRows = 1024

// The keys of a file's metadata.
const (
	metaTable   = "lengthwise.table"   // the table's name
	metaAbout   = "lengthwise.about"   // what one row is
	metaSchema  = "lengthwise.schema"  // see SchemaID
	metaColumns = "lengthwise.columns" // JSON array of Column
)

// createdBy takes the form that the Parquet specification asks for; the
// version is that of the file layout described here, not of the program, so
// that it changes no bytes from one release to the next.
var createdBy = parquet.CreatedBy("lengthwise", "1", "table")

// A Writer writes rows of type T to one Parquet file. It is not safe for
// concurrent use.
type Writer[T any] struct {
	out     *countingHash
	parquet *parquet.GenericWriter[T]
	rows    *rowHash
	batch   []T // less than batchRows
	err     error
	closed  bool
}

type writerConfig struct{ rowsPerGroup int64 }

// A WriterOption changes how a [Writer] lays out its file.
type WriterOption func(*writerConfig)

// WithRowsPerGroup sets the greatest number of rows in a row group. Other
// values than [RowsPerGroup] are for tests and for tables read in small steps.
func WithRowsPerGroup(rows int64) WriterOption {
	return func(c *writerConfig) { c.rowsPerGroup = rows }
}

func configOf(options []WriterOption) writerConfig {
	config := writerConfig{rowsPerGroup: RowsPerGroup}
	for _, option := range options {
		option(&config)
	}
	return config
}

// NewWriter starts a Parquet file of the table d on w. T must be the struct of
// d.Row. Nothing is a file before [Writer.Close] has returned without error.
func NewWriter[T any](w io.Writer, d schemas.Description, options ...WriterOption) (*Writer[T], error) {
	config := configOf(options)
	if config.rowsPerGroup < 1 {
		return nil, fmt.Errorf("table %q: %d rows per row group; at least 1 is needed", d.Name, config.rowsPerGroup)
	}
	rows, columns, err := newRowHash(d, reflect.TypeFor[T](), config.rowsPerGroup)
	if err != nil {
		return nil, err
	}
	about, err := json.Marshal(columns)
	if err != nil {
		return nil, fmt.Errorf("table %q: describing its columns: %w", d.Name, err)
	}
	out := &countingHash{w: w, sum: sha256.New()}
	var row T
	return &Writer[T]{
		out:  out,
		rows: rows,
		parquet: parquet.NewGenericWriter[T](out,
			parquet.NewSchema(d.Name, parquet.SchemaOf(row)),
			parquet.Compression(&parquet.Zstd),
			parquet.MaxRowsPerRowGroup(config.rowsPerGroup),
			createdBy,
			parquet.KeyValueMetadata(metaTable, d.Name),
			parquet.KeyValueMetadata(metaAbout, d.About),
			parquet.KeyValueMetadata(metaSchema, SchemaID(d.Name, columns)),
			parquet.KeyValueMetadata(metaColumns, string(about)),
		),
	}, nil
}

// Write adds rows. It keeps no reference to the slice. A row that a table must
// not hold gives a [*ValueError], after which the writer refuses everything.
func (w *Writer[T]) Write(rows []T) error {
	if w.closed {
		return fmt.Errorf("table %q: written to after it was closed", w.rows.table)
	}
	if w.err != nil {
		return w.err
	}
	for len(rows) > 0 {
		if len(w.batch) == 0 && len(rows) >= batchRows {
			if err := w.flush(rows[:batchRows]); err != nil {
				return err
			}
			rows = rows[batchRows:]
			continue
		}
		n := min(len(rows), batchRows-len(w.batch))
		w.batch = append(w.batch, rows[:n]...)
		rows = rows[n:]
		if len(w.batch) == batchRows {
			if err := w.flush(w.batch); err != nil {
				return err
			}
			w.batch = w.batch[:0]
		}
	}
	return nil
}

func (w *Writer[T]) flush(rows []T) error {
	if len(rows) == 0 {
		return nil
	}
	if w.err = w.rows.add(reflect.ValueOf(rows)); w.err != nil {
		return w.err
	}
	if _, err := w.parquet.Write(rows); err != nil {
		w.err = fmt.Errorf("table %q: writing: %w", w.rows.table, err)
	}
	return w.err
}

// Close writes the file's footer and returns the digest of what was written.
// It does not close the underlying writer. After a failed Write it returns
// that failure again and leaves no valid file.
func (w *Writer[T]) Close() (Digest, error) {
	if w.closed {
		return Digest{}, fmt.Errorf("table %q: closed twice", w.rows.table)
	}
	w.closed = true
	if w.err != nil {
		return Digest{}, w.err
	}
	if err := w.flush(w.batch); err != nil {
		return Digest{}, err
	}
	if err := w.parquet.Close(); err != nil {
		w.err = fmt.Errorf("table %q: writing: %w", w.rows.table, err)
		return Digest{}, w.err
	}
	d := w.rows.digest()
	d.Bytes = w.out.n
	d.SHA256 = hex.EncodeToString(w.out.sum.Sum(nil))
	return d, nil
}

// Write writes rows as one Parquet file of the table d and returns its digest.
// No rows give a valid file with the table's columns.
func Write[T any](w io.Writer, d schemas.Description, rows []T, options ...WriterOption) (Digest, error) {
	tw, err := NewWriter[T](w, d, options...)
	if err != nil {
		return Digest{}, err
	}
	if err := tw.Write(rows); err != nil {
		return Digest{}, err
	}
	return tw.Close()
}

// countingHash passes bytes on, counting and hashing those that got through.
type countingHash struct {
	w   io.Writer
	sum hash.Hash
	n   int64
}

func (c *countingHash) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.sum.Write(p[:n])
	c.n += int64(n)
	return n, err
}
