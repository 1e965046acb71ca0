package table

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// A Piece is a whole file of a table, to be joined with others.
type Piece struct {
	Digest Digest // as its [Writer] gave it, not as it comes back from run.json
	Data   []byte // the file
}

// ErrPieces says that files cannot be joined.
var ErrPieces = errors.New("files that do not join")

const parquetMagic = "PAR1"

// A Joiner writes one file of a table from the row groups of several, as they are:
// no value is decoded or encoded again, and no row group of one file is joined to
// one of the next. The pieces must be files of the same table, and come one by one,
// so that only one of them need be in memory. It is not safe for concurrent use.
type Joiner struct {
	out     *countingHash
	meta    format.FileMetaData
	indexes [][]pageIndex // by row group and column
	columns []ColumnDigest
	groups  []int64
	rows    int64
	empty   *Piece // the first without rows, for when there is no other
	err     error
}

// pageIndex is what stands between the row groups and the footer for a column.
type pageIndex struct {
	column []byte // holds no places
	offset format.OffsetIndex
}

// NewJoiner starts a file on w. Nothing is a file before [Joiner.Close] has
// returned without error.
func NewJoiner(w io.Writer) *Joiner {
	return &Joiner{out: &countingHash{w: w, sum: sha256.New()}}
}

// Join writes one file from the given pieces; see [Joiner].
func Join(w io.Writer, pieces ...Piece) (Digest, error) {
	j := NewJoiner(w)
	for _, p := range pieces {
		if err := j.Add(p); err != nil {
			return Digest{}, err
		}
	}
	return j.Close()
}

// Add adds the row groups of a piece. It keeps no reference to its data, but for the
// first one that has no rows. After an error nothing can be added.
func (j *Joiner) Add(p Piece) error {
	if j.err == nil {
		if j.err = j.add(p); j.err != nil {
			j.err = fmt.Errorf("%w: %w", ErrPieces, j.err)
		}
	}
	return j.err
}

func (j *Joiner) add(p Piece) error {
	meta, err := footer(p.Data)
	if err != nil {
		return err
	}
	if err := sameShape(p.Digest.Columns, meta); err != nil {
		return err
	}
	if p.Digest.Rows == 0 {
		if j.empty == nil {
			j.empty = &p
		}
		return nil
	}
	if len(meta.RowGroups) != len(p.Digest.Groups) {
		return fmt.Errorf("%d row groups in a piece whose digest tells of %d", len(meta.RowGroups), len(p.Digest.Groups))
	}
	if j.rows == 0 {
		if _, err := j.out.Write([]byte(parquetMagic)); err != nil {
			return err
		}
		j.meta = meta
		j.meta.RowGroups = nil
		j.columns = make([]ColumnDigest, len(p.Digest.Columns))
		for i, c := range p.Digest.Columns {
			j.columns[i] = ColumnDigest{Name: c.Name, Type: c.Type, Nullable: c.Nullable}
		}
	}
	for i, c := range p.Digest.Columns {
		into := &j.columns[i]
		if len(j.columns) != len(p.Digest.Columns) || c.Name != into.Name || c.Type != into.Type || c.Nullable != into.Nullable {
			return fmt.Errorf("column %d is %q in one piece and another in the next", i+1, c.Name)
		}
		if len(c.groups) != len(meta.RowGroups) {
			return fmt.Errorf("column %q: no hashes of its row groups", c.Name)
		}
		into.Nulls += c.Nulls
		into.groups = append(into.groups, c.groups...)
	}
	for g := range meta.RowGroups {
		if err := j.rowGroup(p.Data, meta.RowGroups[g]); err != nil {
			return err
		}
	}
	j.groups = append(j.groups, p.Digest.Groups...)
	j.rows += p.Digest.Rows
	return nil
}

// rowGroup copies the pages of a row group, which lie in one stretch, and notes
// where they are now.
func (j *Joiner) rowGroup(data []byte, group format.RowGroup) error {
	from, to := int64(math.MaxInt64), int64(0)
	for c := range group.Columns {
		m := &group.Columns[c].MetaData
		at := firstPage(m)
		from, to = min(from, at), max(to, at+m.TotalCompressedSize)
	}
	if from < int64(len(parquetMagic)) || to < from || to > int64(len(data)) {
		return fmt.Errorf("a row group from byte %d to %d of %d", from, to, len(data))
	}
	if len(j.meta.RowGroups) > math.MaxInt16 {
		return fmt.Errorf("more than %d row groups", math.MaxInt16)
	}
	shift := j.out.n - from
	indexes := make([]pageIndex, len(group.Columns))
	columns := append([]format.ColumnChunk(nil), group.Columns...)
	for c := range columns {
		chunk := &columns[c]
		var err error
		if indexes[c].column, err = stretch(data, chunk.ColumnIndexOffset, chunk.ColumnIndexLength); err != nil {
			return err
		}
		raw, err := stretch(data, chunk.OffsetIndexOffset, chunk.OffsetIndexLength)
		if err != nil {
			return err
		}
		if len(raw) > 0 {
			if err := thrift.Unmarshal(&thrift.CompactProtocol{}, raw, &indexes[c].offset); err != nil {
				return fmt.Errorf("an offset index: %w", err)
			}
			for k := range indexes[c].offset.PageLocations {
				indexes[c].offset.PageLocations[k].Offset += shift
			}
		}
		if chunk.FileOffset > 0 {
			chunk.FileOffset += shift
		}
		chunk.MetaData.DataPageOffset += shift
		if chunk.MetaData.DictionaryPageOffset > 0 {
			chunk.MetaData.DictionaryPageOffset += shift
		}
	}
	group.Columns = columns
	group.FileOffset = from + shift
	group.Ordinal = int16(len(j.meta.RowGroups))
	if _, err := j.out.Write(data[from:to]); err != nil {
		return err
	}
	j.meta.RowGroups = append(j.meta.RowGroups, group)
	j.indexes = append(j.indexes, indexes)
	return nil
}

// firstPage is where the pages of a column begin.
func firstPage(m *format.ColumnMetaData) int64 {
	if m.DictionaryPageOffset > 0 && m.DictionaryPageOffset < m.DataPageOffset {
		return m.DictionaryPageOffset
	}
	return m.DataPageOffset
}

func stretch(data []byte, at int64, length int32) ([]byte, error) {
	if length == 0 {
		return nil, nil
	}
	if at < 0 || length < 0 || at+int64(length) > int64(len(data)) {
		return nil, fmt.Errorf("an index of %d bytes at byte %d of %d", length, at, len(data))
	}
	return bytes.Clone(data[at : at+int64(length)]), nil
}

// Close writes the indexes of pages and the footer, and gives the digest.
func (j *Joiner) Close() (Digest, error) {
	if j.err != nil {
		return Digest{}, j.err
	}
	j.err = errors.New("closed already")
	if j.rows == 0 {
		if j.empty == nil {
			return Digest{}, fmt.Errorf("%w: there are none", ErrPieces)
		}
		_, err := j.out.Write(j.empty.Data)
		return j.empty.Digest, err
	}
	for g := range j.indexes {
		for c := range j.indexes[g] {
			chunk, raw := &j.meta.RowGroups[g].Columns[c], j.indexes[g][c].column
			if len(raw) > 0 {
				chunk.ColumnIndexOffset, chunk.ColumnIndexLength = j.out.n, int32(len(raw))
				if _, err := j.out.Write(raw); err != nil {
					return Digest{}, err
				}
			}
		}
	}
	for g := range j.indexes {
		for c := range j.indexes[g] {
			chunk, index := &j.meta.RowGroups[g].Columns[c], &j.indexes[g][c].offset
			if len(index.PageLocations) == 0 {
				continue
			}
			raw, err := thrift.Marshal(&thrift.CompactProtocol{}, index)
			if err != nil {
				return Digest{}, fmt.Errorf("an offset index: %w", err)
			}
			chunk.OffsetIndexOffset, chunk.OffsetIndexLength = j.out.n, int32(len(raw))
			if _, err := j.out.Write(raw); err != nil {
				return Digest{}, err
			}
		}
	}
	j.meta.NumRows = j.rows
	raw, err := thrift.Marshal(&thrift.CompactProtocol{}, &j.meta)
	if err != nil {
		return Digest{}, fmt.Errorf("the footer: %w", err)
	}
	raw = binary.LittleEndian.AppendUint32(raw, uint32(len(raw)))
	if _, err := j.out.Write(append(raw, parquetMagic...)); err != nil {
		return Digest{}, err
	}
	for i := range j.columns {
		c := &j.columns[i]
		*c = columnDigest(Column{Name: c.Name, Type: c.Type, Nullable: c.Nullable}, j.rows, c.Nulls, c.groups)
	}
	d := contentDigest(j.rows, j.groups, j.columns)
	d.Bytes, d.SHA256 = j.out.n, hex.EncodeToString(j.out.sum.Sum(nil))
	return d, nil
}

// footer reads the metadata of a file.
func footer(data []byte) (meta format.FileMetaData, err error) {
	if err := checkFooter(bytes.NewReader(data), int64(len(data))); err != nil {
		return meta, err
	}
	end := len(data) - 8
	length := int(binary.LittleEndian.Uint32(data[end:]))
	if err := thrift.Unmarshal(&thrift.CompactProtocol{}, data[end-length:end], &meta); err != nil {
		return meta, fmt.Errorf("its footer: %w", err)
	}
	return meta, nil
}

// sameShape compares the columns of a digest with those of a footer.
func sameShape(columns []ColumnDigest, meta format.FileMetaData) error {
	if len(meta.Schema) != len(columns)+1 {
		return fmt.Errorf("a piece of %d columns, and a digest of %d", len(meta.Schema)-1, len(columns))
	}
	for i, c := range columns {
		if name := meta.Schema[i+1].Name; name != c.Name {
			return fmt.Errorf("column %d is %q in a piece, and %q in its digest", i+1, name, c.Name)
		}
	}
	return nil
}
