package wire

import (
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
)

func pointerCodec(t reflect.Type, within []reflect.Type) (codec, error) {
	to, err := codecOf(t.Elem(), within)
	if err != nil {
		return codec{}, err
	}
	return codec{
		func(e *encoder, at reflect.Value) {
			if at.IsNil() {
				e.body = append(e.body, 0)
				return
			}
			e.body = append(e.body, 1)
			to.write(e, at.Elem())
		},
		func(d *decoder, at reflect.Value) {
			if b := d.take(1); b == nil || b[0] == 0 {
				return
			}
			at.Set(reflect.New(t.Elem()))
			to.read(d, at.Elem())
		}, 1}, nil
}

// sliceCodec writes the length plus one, so that 0 is nil.
func sliceCodec(t reflect.Type, within []reflect.Type) (codec, error) {
	of, err := codecOf(t.Elem(), within)
	if err != nil {
		return codec{}, err
	}
	if t.Elem().Kind() == reflect.Float64 {
		return codec{writeFloats, readFloats, 1}, nil
	}
	return codec{
		func(e *encoder, at reflect.Value) {
			if at.IsNil() {
				e.body = append(e.body, 0)
				return
			}
			n := at.Len()
			e.body = binary.AppendUvarint(e.body, uint64(n)+1)
			for i := range n {
				of.write(e, at.Index(i))
			}
		},
		func(d *decoder, at reflect.Value) {
			n, ok := d.length(of.least)
			if !ok {
				return
			}
			at.Set(reflect.MakeSlice(t, n, n))
			for i := 0; i < n && d.wrong == ""; i++ {
				of.read(d, at.Index(i))
			}
		}, 1}, nil
}

// length reads a length plus one; not ok is nil.
func (d *decoder) length(each int) (n int, ok bool) {
	v := d.uvarint()
	if v == 0 {
		return 0, false
	}
	v--
	if v > uint64(len(d.rest)/max(1, each)) && (each > 0 || v > most) {
		d.fail("more is announced than is there")
		return 0, false
	}
	return int(v), true
}

// writeFloats and readFloats are for slices of numbers, which are long.
func writeFloats(e *encoder, at reflect.Value) {
	if at.IsNil() {
		e.body = append(e.body, 0)
		return
	}
	n := at.Len()
	e.body = binary.AppendUvarint(e.body, uint64(n)+1)
	for i := range n {
		e.body = binary.LittleEndian.AppendUint64(e.body, math.Float64bits(at.Index(i).Float()))
	}
}

func readFloats(d *decoder, at reflect.Value) {
	n, ok := d.length(8)
	if !ok {
		return
	}
	b := d.take(8 * n)
	at.Set(reflect.MakeSlice(at.Type(), n, n))
	for i := range n {
		at.Index(i).SetFloat(math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:])))
	}
}

func arrayCodec(t reflect.Type, within []reflect.Type) (codec, error) {
	of, err := codecOf(t.Elem(), within)
	if err != nil {
		return codec{}, err
	}
	return codec{
		func(e *encoder, at reflect.Value) {
			for i := range at.Len() {
				of.write(e, at.Index(i))
			}
		},
		func(d *decoder, at reflect.Value) {
			for i := range at.Len() {
				of.read(d, at.Index(i))
			}
		}, t.Len() * of.least}, nil
}

func mapCodec(t reflect.Type, within []reflect.Type) (codec, error) {
	key, err := codecOf(t.Key(), within)
	if err != nil {
		return codec{}, err
	}
	of, err := codecOf(t.Elem(), within)
	if err != nil {
		return codec{}, err
	}
	return codec{
		func(e *encoder, at reflect.Value) {
			if at.IsNil() {
				e.body = append(e.body, 0)
				return
			}
			e.body = binary.AppendUvarint(e.body, uint64(at.Len())+1)
			for _, k := range sortedKeys(at, key) {
				key.write(e, k)
				v := reflect.New(t.Elem()).Elem()
				v.Set(at.MapIndex(k))
				of.write(e, v)
			}
		},
		func(d *decoder, at reflect.Value) {
			n, ok := d.length(key.least + of.least)
			if !ok {
				return
			}
			at.Set(reflect.MakeMapWithSize(t, n))
			for i := 0; i < n && d.wrong == ""; i++ {
				k, v := reflect.New(t.Key()).Elem(), reflect.New(t.Elem()).Elem()
				key.read(d, k)
				of.read(d, v)
				at.SetMapIndex(k, v)
			}
		}, 1}, nil
}

func structCodec(t reflect.Type, within []reflect.Type) (codec, error) {
	var fields []codec
	least := 0
	for i := range t.NumField() {
		f, err := codecOf(t.Field(i).Type, within)
		if err != nil {
			return codec{}, fmt.Errorf("field %s of %s: %w", t.Field(i).Name, t, err)
		}
		fields = append(fields, f)
		least += f.least
	}
	return codec{
		func(e *encoder, at reflect.Value) {
			for i := range fields {
				fields[i].write(e, open(at.Field(i)))
			}
		},
		func(d *decoder, at reflect.Value) {
			for i := range fields {
				fields[i].read(d, open(at.Field(i)))
			}
		}, least}, nil
}
