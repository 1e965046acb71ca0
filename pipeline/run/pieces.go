package run

import (
	"bytes"
	"errors"
	"fmt"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// pieceWriter makes a file of a table in memory, of a bucket's rows.
type pieceWriter[T any] struct {
	name   string
	buffer bytes.Buffer
	rows   *table.Writer[T] // nil until there are rows
}

func (p *pieceWriter[T]) add(rows []T) error {
	if len(rows) == 0 {
		return nil
	}
	if p.rows == nil {
		d, err := description(p.name)
		if err != nil {
			return err
		}
		if p.rows, err = table.NewWriter[T](&p.buffer, d); err != nil {
			return err
		}
	}
	return p.rows.Write(rows)
}

// done reads the file back, compares it with what was meant and gives it; nil without
// rows.
func (p *pieceWriter[T]) done() (*table.Piece, error) {
	if p.rows == nil {
		return nil, nil
	}
	digest, err := p.rows.Close()
	if err != nil {
		return nil, fmt.Errorf("table %s: %w", p.name, err)
	}
	data := p.buffer.Bytes()
	f, err := table.OpenReaderAt(bytes.NewReader(data), int64(len(data)), p.name)
	if err != nil {
		return nil, fmt.Errorf("read back: %w", err)
	}
	got, err := f.Content()
	if err == nil {
		err = table.SameContent(got, digest)
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, fmt.Errorf("table %s: read back: %w", p.name, err)
	}
	return &table.Piece{Digest: digest, Data: data}, nil
}

// emptyPiece is a file of a table without rows, which still has its columns.
func emptyPiece[T any](name string) (table.Piece, error) {
	d, err := description(name)
	if err != nil {
		return table.Piece{}, err
	}
	var b bytes.Buffer
	digest, err := table.Write(&b, d, []T(nil))
	return table.Piece{Digest: digest, Data: b.Bytes()}, err
}

// measuredPieces makes a bucket's measured tables.
type measuredPieces struct {
	inRows    bool
	rows      fitRows
	lengths   pieceWriter[schemas.Length]
	lineage   pieceWriter[schemas.Lineage]
	heartRate pieceWriter[schemas.HeartRate]
}

func newMeasuredPieces(inRows bool) *measuredPieces {
	p := &measuredPieces{inRows: inRows}
	p.lengths.name, p.lineage.name, p.heartRate.name = "lengths", "lineage", "heart_rate"
	return p
}

func (p *measuredPieces) add(rows fitRows) error {
	if p.inRows {
		p.rows.Lengths = append(p.rows.Lengths, rows.Lengths...)
		p.rows.Lineage = append(p.rows.Lineage, rows.Lineage...)
		return nil
	}
	return errors.Join(p.lengths.add(rows.Lengths), p.lineage.add(rows.Lineage), p.heartRate.add(rows.HeartRate))
}

func (p *measuredPieces) done() (*measuredTables, error) {
	t := &measuredTables{rows: p.rows}
	var errs [3]error
	t.lengths, errs[0] = p.lengths.done()
	t.lineage, errs[1] = p.lineage.done()
	t.heartRate, errs[2] = p.heartRate.done()
	return t, errors.Join(errs[:]...)
}

// pieces names where the files of measured tables are.
func (t *measuredTables) pieces() map[string]**table.Piece {
	return map[string]**table.Piece{"lengths": &t.lengths, "lineage": &t.lineage, "heart_rate": &t.heartRate}
}

// pieceFrom reads a file of a table from a segment; nil where there were no rows.
func (e *engine) pieceFrom(segment *cache.Segment, name string) (*table.Piece, error) {
	raw, err := segment.Get(cache.KeyOf("digest", name))
	if err != nil || len(raw) == 0 {
		return nil, err
	}
	digest, err := e.digestCodec.Decode(raw)
	if err != nil {
		return nil, err
	}
	data, err := segment.Get(cache.KeyOf("file", name))
	return &table.Piece{Digest: digest, Data: data}, err
}

// pieceInto writes a file of a table into a segment.
func (e *engine) pieceInto(w *cache.Writer, name string, piece *table.Piece) error {
	if piece == nil {
		return w.Append(cache.KeyOf("digest", name), nil)
	}
	if err := w.Append(cache.KeyOf("digest", name), e.digestCodec.Append(nil, &piece.Digest)); err != nil {
		return err
	}
	return w.Append(cache.KeyOf("file", name), piece.Data)
}
