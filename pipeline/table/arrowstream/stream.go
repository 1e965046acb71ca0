// Package arrowstream turns a table into an Arrow IPC stream, the form in
// which notebooks and other programs take data over a pipe. It is apart from
// package table so that only the command that prints tables links Arrow.
package arrowstream

import (
	"errors"
	"fmt"
	"io"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"lengthwise/pipeline/table"
)

// WriteArrowStream writes the named columns of a table (all for none) as an
// Arrow IPC stream, one record batch a row group; a table without rows gives a
// stream with its schema. With a limit that is not negative only the first
// limit rows are written. Types are utf8, bool, int32, int64, float64 and
// timestamp[ms, UTC]; units and meanings are in the fields' metadata. Nothing
// in it depends on the run.
func WriteArrowStream(w io.Writer, f *table.File, columns []string, limit int) (err error) {
	chosen, err := f.Select(columns)
	if err != nil {
		return err
	}
	schema, err := schemaOf(f, chosen)
	if err != nil {
		return err
	}
	stream := ipc.NewWriter(w, ipc.WithSchema(schema))
	defer func() {
		if err = errors.Join(err, stream.Close()); err != nil {
			err = fmt.Errorf("writing an Arrow stream: %w", err)
		}
	}()
	left := f.Rows()
	if limit >= 0 {
		left = min(left, int64(limit))
	}
	for _, g := range f.Groups() {
		if left == 0 {
			return nil
		}
		n := min(left, g.Rows())
		if err := writeGroup(stream, schema, g, chosen, n); err != nil {
			return err
		}
		left -= n
	}
	return nil
}

func schemaOf(f *table.File, columns []table.Column) (*arrow.Schema, error) {
	fields := make([]arrow.Field, len(columns))
	for i, c := range columns {
		t, err := typeOf(c)
		if err != nil {
			return nil, err
		}
		var keys, values []string
		for _, kv := range [][2]string{{"unit", c.Unit}, {"about", c.About}} {
			if kv[1] != "" {
				keys, values = append(keys, kv[0]), append(values, kv[1])
			}
		}
		fields[i] = arrow.Field{Name: c.Name, Type: t, Nullable: c.Nullable, Metadata: arrow.NewMetadata(keys, values)}
	}
	about := arrow.NewMetadata([]string{"table", "about", "schema"}, []string{f.Name(), f.About(), f.SchemaID()})
	return arrow.NewSchema(fields, &about), nil
}

func typeOf(c table.Column) (arrow.DataType, error) {
	switch c.Type {
	case table.String:
		return arrow.BinaryTypes.String, nil
	case table.Boolean:
		return arrow.FixedWidthTypes.Boolean, nil
	case table.Int32:
		return arrow.PrimitiveTypes.Int32, nil
	case table.Int64:
		return arrow.PrimitiveTypes.Int64, nil
	case table.Double:
		return arrow.PrimitiveTypes.Float64, nil
	case table.Timestamp:
		return &arrow.TimestampType{Unit: arrow.Millisecond, TimeZone: "UTC"}, nil
	}
	return nil, fmt.Errorf("column %q: no Arrow type for %q", c.Name, c.Type)
}

func writeGroup(stream *ipc.Writer, schema *arrow.Schema, g *table.Group, columns []table.Column, rows int64) error {
	arrays := make([]arrow.Array, 0, len(columns))
	defer func() {
		for _, a := range arrays {
			a.Release()
		}
	}()
	for i, c := range columns {
		a, err := arrayOf(g, c, schema.Field(i).Type, rows)
		if err != nil {
			return err
		}
		arrays = append(arrays, a)
	}
	batch := array.NewRecord(schema, arrays, rows)
	defer batch.Release()
	return stream.Write(batch)
}

// arrayOf reads the first rows of a column of a row group.
func arrayOf(g *table.Group, c table.Column, t arrow.DataType, rows int64) (arrow.Array, error) {
	builder := array.NewBuilder(memory.DefaultAllocator, t)
	defer builder.Release()
	var err error
	switch b := builder.(type) {
	case *array.StringBuilder:
		err = appendAll(b.AppendValues, rows)(g.Strings(c.Name))
	case *array.BooleanBuilder:
		err = appendAll(b.AppendValues, rows)(g.Bools(c.Name))
	case *array.Int32Builder:
		err = appendAll(b.AppendValues, rows)(g.Int32s(c.Name))
	case *array.Int64Builder:
		err = appendAll(b.AppendValues, rows)(g.Int64s(c.Name))
	case *array.Float64Builder:
		err = appendAll(b.AppendValues, rows)(g.Float64s(c.Name))
	case *array.TimestampBuilder:
		err = appendAll(func(v []int64, valid []bool) {
			stamps := make([]arrow.Timestamp, len(v))
			for i, ms := range v {
				stamps[i] = arrow.Timestamp(ms)
			}
			b.AppendValues(stamps, valid)
		}, rows)(g.Int64s(c.Name))
	default:
		err = fmt.Errorf("column %q: no Arrow array for %s", c.Name, t)
	}
	if err != nil {
		return nil, err
	}
	return builder.NewArray(), nil
}

// appendAll hands values to a builder, which wants to know what is there
// rather than what is null.
func appendAll[V table.Value](add func([]V, []bool), rows int64) func(table.Values[V], error) error {
	return func(values table.Values[V], err error) error {
		if err != nil {
			return err
		}
		var valid []bool
		if values.Null != nil {
			valid = make([]bool, rows)
			for i := range valid {
				valid[i] = !values.Null[i]
			}
		}
		add(values.V[:rows], valid)
		return nil
	}
}
