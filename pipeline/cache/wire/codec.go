package wire

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"reflect"
	"sort"
	"sync"
	"time"
	"unsafe"
)

// ErrBytes says that bytes are none of a value of the type.
var ErrBytes = errors.New("not a value of this type")

// ErrType says that values of a type cannot be written.
var ErrType = errors.New("a type that cannot be written")

// codec writes and reads the values of one type.
type codec struct {
	write func(e *encoder, at reflect.Value)
	read  func(d *decoder, at reflect.Value)
	least int // bytes that a value takes at the least
}

// A Codec writes and reads values of type T. Several goroutines may use it.
type Codec[T any] struct{ of codec }

// For makes the codec of a type; the error wraps ErrType.
func For[T any]() (*Codec[T], error) {
	c, err := codecOf(reflect.TypeFor[T](), nil)
	if err != nil {
		return nil, err
	}
	return &Codec[T]{c}, nil
}

type encoder struct {
	body  []byte
	texts map[string]uint64
	order []string
}

var encoders = sync.Pool{New: func() any { return &encoder{texts: map[string]uint64{}} }}

// Append writes a value behind dst. Equal texts are written once.
func (c *Codec[T]) Append(dst []byte, v *T) []byte {
	e := encoders.Get().(*encoder)
	e.body, e.order = e.body[:0], e.order[:0]
	clear(e.texts)
	c.of.write(e, reflect.ValueOf(v).Elem())
	dst = binary.AppendUvarint(dst, uint64(len(e.order)))
	for _, text := range e.order {
		dst = binary.AppendUvarint(dst, uint64(len(text)))
		dst = append(dst, text...)
	}
	dst = append(dst, e.body...)
	encoders.Put(e)
	return dst
}

// Decode reads the value of bytes that Append wrote behind nothing. Equal texts share
// their memory. The error wraps ErrBytes.
func (c *Codec[T]) Decode(data []byte) (v T, err error) {
	d := &decoder{rest: data}
	d.texts = make([]string, d.count(1))
	for i := range d.texts {
		d.texts[i] = string(d.take(d.count(1)))
	}
	c.of.read(d, reflect.ValueOf(&v).Elem())
	if d.wrong == "" && len(d.rest) > 0 {
		d.wrong = fmt.Sprintf("%d bytes too many", len(d.rest))
	}
	if d.wrong != "" {
		var none T
		return none, fmt.Errorf("%w (%T): %s", ErrBytes, none, d.wrong)
	}
	return v, nil
}

// decoder takes bytes apart. After the first fault it gives zeros.
type decoder struct {
	rest  []byte
	texts []string
	wrong string
}

func (d *decoder) fail(wrong string) {
	if d.wrong == "" {
		d.wrong = wrong
	}
	d.rest = nil
}

func (d *decoder) uvarint() uint64 {
	v, n := binary.Uvarint(d.rest)
	if n <= 0 {
		d.fail("cut off")
		return 0
	}
	d.rest = d.rest[n:]
	return v
}

func (d *decoder) varint() int64 {
	v, n := binary.Varint(d.rest)
	if n <= 0 {
		d.fail("cut off")
		return 0
	}
	d.rest = d.rest[n:]
	return v
}

func (d *decoder) take(n int) []byte {
	if n > len(d.rest) {
		d.fail("cut off")
		return nil
	}
	b := d.rest[:n]
	d.rest = d.rest[n:]
	return b
}

// count reads how many things follow that take some bytes each at the least.
func (d *decoder) count(each int) int {
	n := d.uvarint()
	if n > uint64(len(d.rest)/max(1, each)) && (each > 0 || n > most) {
		d.fail("more is announced than is there")
		return 0
	}
	return int(n)
}

// most bounds how many things without a byte of their own are believed.
const most = 1 << 20

// open gives a field that can be set, unexported ones too.
func open(at reflect.Value) reflect.Value {
	if at.CanSet() {
		return at
	}
	return reflect.NewAt(at.Type(), unsafe.Pointer(at.UnsafeAddr())).Elem()
}

// codecOf makes the codec of a type within others; within are those that hold it.
func codecOf(t reflect.Type, within []reflect.Type) (codec, error) {
	for _, outer := range within {
		if outer == t {
			return codec{}, fmt.Errorf("%w: %s leads back to itself", ErrType, t)
		}
	}
	if t == reflect.TypeFor[time.Time]() || t == reflect.TypeFor[time.Location]() {
		return codec{}, fmt.Errorf("%w: %s; keep the instant as a number and the zone by name", ErrType, t)
	}
	within = append(within[:len(within):len(within)], t)
	switch t.Kind() {
	case reflect.Bool:
		return codec{
			func(e *encoder, at reflect.Value) {
				b := byte(0)
				if at.Bool() {
					b = 1
				}
				e.body = append(e.body, b)
			},
			func(d *decoder, at reflect.Value) { at.SetBool(len(d.rest) > 0 && d.rest[0] == 1); d.take(1) }, 1}, nil
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return codec{
			func(e *encoder, at reflect.Value) { e.body = binary.AppendVarint(e.body, at.Int()) },
			func(d *decoder, at reflect.Value) { at.SetInt(d.varint()) }, 1}, nil
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return codec{
			func(e *encoder, at reflect.Value) { e.body = binary.AppendUvarint(e.body, at.Uint()) },
			func(d *decoder, at reflect.Value) { at.SetUint(d.uvarint()) }, 1}, nil
	case reflect.Float64:
		return codec{
			func(e *encoder, at reflect.Value) {
				e.body = binary.LittleEndian.AppendUint64(e.body, math.Float64bits(at.Float()))
			},
			func(d *decoder, at reflect.Value) {
				if b := d.take(8); b != nil {
					at.SetFloat(math.Float64frombits(binary.LittleEndian.Uint64(b)))
				}
			}, 8}, nil
	case reflect.String:
		return codec{writeText, readText, 1}, nil
	case reflect.Pointer:
		return pointerCodec(t, within)
	case reflect.Slice:
		return sliceCodec(t, within)
	case reflect.Array:
		return arrayCodec(t, within)
	case reflect.Map:
		return mapCodec(t, within)
	case reflect.Struct:
		return structCodec(t, within)
	}
	return codec{}, fmt.Errorf("%w: %s", ErrType, t)
}

func writeText(e *encoder, at reflect.Value) {
	text := at.String()
	n, ok := e.texts[text]
	if !ok {
		n = uint64(len(e.order))
		e.texts[text] = n
		e.order = append(e.order, text)
	}
	e.body = binary.AppendUvarint(e.body, n)
}

func readText(d *decoder, at reflect.Value) {
	n := d.uvarint()
	if n >= uint64(len(d.texts)) {
		d.fail("a text that is not there")
		return
	}
	at.SetString(d.texts[n])
}

// sortedKeys puts the keys of a map in the order of their bytes.
func sortedKeys(at reflect.Value, key codec) []reflect.Value {
	keys := at.MapKeys()
	alone := make([]string, len(keys))
	for i, k := range keys {
		fresh := reflect.New(k.Type()).Elem()
		fresh.Set(k)
		keys[i] = fresh
		if k.Kind() == reflect.String {
			alone[i] = k.String()
			continue
		}
		e := encoder{texts: map[string]uint64{}}
		key.write(&e, fresh)
		for _, text := range e.order {
			alone[i] += text + "\x00"
		}
		alone[i] += string(e.body)
	}
	sort.Sort(byText{keys, alone})
	return keys
}

type byText struct {
	keys  []reflect.Value
	texts []string
}

func (b byText) Len() int           { return len(b.keys) }
func (b byText) Less(i, j int) bool { return b.texts[i] < b.texts[j] }
func (b byText) Swap(i, j int) {
	b.keys[i], b.keys[j] = b.keys[j], b.keys[i]
	b.texts[i], b.texts[j] = b.texts[j], b.texts[i]
}
