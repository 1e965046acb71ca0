//lint:file-ignore U1000 fields are reached by reflection alone

package wire

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"
)

type inner struct {
	name   string
	value  float64
	Counts map[string]int32
	pairs  map[[2]string]float64
}

type outer struct {
	A      int64
	b      bool
	c      uint8
	text   string
	Floats []float64
	named  []measure
	list   []inner
	at     *inner
	deep   **int
	grid   [3][2]float64
	empty  struct{}
	blanks []struct{}
	set    map[int]bool
}

type measure float64

// random fills a value with anything, nil and empty among it.
func random(at reflect.Value, r *rand.Rand) {
	at = open(at)
	switch at.Kind() {
	case reflect.Bool:
		at.SetBool(r.IntN(2) == 0)
	case reflect.Int, reflect.Int32, reflect.Int64:
		at.SetInt([]int64{0, -1, math.MaxInt32, int64(r.Int32())}[r.IntN(4)])
	case reflect.Uint8:
		at.SetUint(r.Uint64N(256))
	case reflect.Float64:
		at.SetFloat([]float64{0, math.Copysign(0, -1), math.Inf(1), r.NormFloat64(), math.SmallestNonzeroFloat64}[r.IntN(5)])
	case reflect.String:
		at.SetString([]string{"", "a", "ab\x00", fmt.Sprint(r.IntN(9))}[r.IntN(4)])
	case reflect.Pointer:
		if r.IntN(3) > 0 {
			at.Set(reflect.New(at.Type().Elem()))
			random(at.Elem(), r)
		}
	case reflect.Slice:
		if r.IntN(4) > 0 {
			at.Set(reflect.MakeSlice(at.Type(), r.IntN(4), 5))
			for i := range at.Len() {
				random(at.Index(i), r)
			}
		}
	case reflect.Array:
		for i := range at.Len() {
			random(at.Index(i), r)
		}
	case reflect.Map:
		if r.IntN(4) > 0 {
			at.Set(reflect.MakeMap(at.Type()))
			for range r.IntN(5) {
				k, v := reflect.New(at.Type().Key()).Elem(), reflect.New(at.Type().Elem()).Elem()
				random(k, r)
				random(v, r)
				at.SetMapIndex(k, v)
			}
		}
	case reflect.Struct:
		for i := range at.NumField() {
			random(at.Field(i), r)
		}
	}
}

func TestThereAndBack(t *testing.T) {
	c, err := For[outer]()
	if err != nil {
		t.Fatal(err)
	}
	for seed := range uint64(2000) {
		var v outer
		random(reflect.ValueOf(&v).Elem(), rand.New(rand.NewPCG(seed, 1)))
		data := c.Append([]byte("before"), &v)[6:]
		got, err := c.Decode(data)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if !reflect.DeepEqual(got, v) {
			t.Fatalf("seed %d: %+v became %+v", seed, v, got)
		}
		if again := c.Append(nil, &got); !bytes.Equal(again, data) {
			t.Fatalf("seed %d: other bytes", seed)
		}
		for cut := range data { // whatever is cut off is missed
			if _, err := c.Decode(data[:cut]); !errors.Is(err, ErrBytes) {
				t.Fatalf("seed %d, %d of %d bytes: %v", seed, cut, len(data), err)
			}
		}
	}
}

func TestNumbersToTheBit(t *testing.T) {
	c, err := For[[]float64]()
	if err != nil {
		t.Fatal(err)
	}
	want := []float64{math.NaN(), math.Float64frombits(0x7ff8000000000123), math.Copysign(0, -1), math.MaxFloat64, math.Inf(-1)}
	got, err := c.Decode(c.Append(nil, &want))
	if err != nil || len(got) != len(want) {
		t.Fatal(got, err)
	}
	for i := range want {
		if math.Float64bits(got[i]) != math.Float64bits(want[i]) {
			t.Errorf("%v became %v", want[i], got[i])
		}
	}
}

type circle struct{ next *circle }

func TestTypesThatCannotBeWritten(t *testing.T) {
	check := func(name string, err error) {
		t.Helper()
		if !errors.Is(err, ErrType) {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, err := For[any]()
	check("interface", err)
	_, err = For[struct{ f func() }]()
	check("function", err)
	_, err = For[circle]()
	check("circle", err)
	_, err = For[struct{ at time.Time }]()
	check("time", err)
	_, err = For[map[string]chan int]()
	check("channel", err)
	if _, err := For[struct{ d time.Duration }](); err != nil {
		t.Error(err)
	}
}

func TestShape(t *testing.T) {
	type a struct{ X, Y int }
	shapes := map[string]string{}
	for name, shape := range map[string]string{
		"a": Shape[a](), "order": Shape[struct{ Y, X int }](), "kind": Shape[struct{ X, Y int32 }](), "pointer": Shape[*a](),
		"array": Shape[[2]a](), "longer": Shape[[3]a](), "map": Shape[map[string]a](), "circle": Shape[circle](),
	} {
		if other, twice := shapes[shape]; twice {
			t.Errorf("%s and %s have one shape", name, other)
		}
		shapes[shape] = name
	}
	if again := Shape[a](); shapes[again] != "a" {
		t.Error("a shape that changes")
	}
}

// FuzzDecode: whatever the bytes, no panic and no more memory than they are worth.
func FuzzDecode(f *testing.F) {
	c, err := For[outer]()
	if err != nil {
		f.Fatal(err)
	}
	for seed := range uint64(20) {
		var v outer
		random(reflect.ValueOf(&v).Elem(), rand.New(rand.NewPCG(seed, 2)))
		f.Add(c.Append(nil, &v))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		v, err := c.Decode(data)
		if err != nil {
			return
		}
		again, err := c.Decode(c.Append(nil, &v))
		if err != nil {
			t.Fatal(err)
		}
		a, b := c.Append(nil, &v), c.Append(nil, &again)
		if !bytes.Equal(a, b) {
			t.Fatal("a value that does not come back")
		}
	})
}

func BenchmarkThereAndBack(b *testing.B) {
	c, err := For[[]inner]()
	if err != nil {
		b.Fatal(err)
	}
	list := make([]inner, 1000)
	for i := range list {
		random(reflect.ValueOf(&list[i]).Elem(), rand.New(rand.NewPCG(uint64(i), 3)))
	}
	data := c.Append(nil, &list)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		data = c.Append(data[:0], &list)
		if _, err := c.Decode(data); err != nil {
			b.Fatal(err)
		}
	}
}
