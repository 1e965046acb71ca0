package read

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"
)

// filled sets every field that can be reached to something that is not its zero
// value, so that a field which is not packed shows.
func filled(v reflect.Value, r *rand.Rand) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			v.Set(reflect.ValueOf(time.Unix(r.Int64N(2e9), r.Int64N(1e9)).In([]*time.Location{time.UTC, lisbon, time.FixedZone("", -1800)}[r.IntN(3)])))
			return
		}
		for i := range v.NumField() {
			filled(v.Field(i), r)
		}
	case reflect.Pointer:
		v.Set(reflect.ValueOf([]*time.Location{lisbon, time.FixedZone("here", 3600*(1+r.IntN(9)))}[r.IntN(2)]))
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1+r.IntN(5), 9))
		for i := range v.Len() {
			filled(v.Index(i), r)
		}
	case reflect.String:
		v.SetString([]string{"freestyle", "Ω", "sheet", "f-17"}[r.IntN(4)])
	case reflect.Int, reflect.Int64:
		v.SetInt(1 + r.Int64N(1<<40) - 1<<39*r.Int64N(2))
	case reflect.Float64:
		v.SetFloat([]float64{math.NaN(), math.Inf(-1), math.Copysign(0, -1), 1 + r.Float64(), 5e-324, math.Float64frombits(0x7ff8000000000123), 1, -17, math.MaxInt32, math.MinInt32, 1 << 31, math.MaxFloat64}[r.IntN(12)])
	case reflect.Bool:
		v.SetBool(true)
	default:
		panic("what is a " + v.Kind().String())
	}
}

// alike compares to the bit: NaN is itself, and -0 is not 0.
func alike(a, b reflect.Value) bool {
	switch a.Kind() {
	case reflect.Struct:
		if t, ok := a.Interface().(time.Time); ok {
			u := b.Interface().(time.Time)
			return t.Equal(u) && sameZone(t.Location(), u.Location())
		}
		for i := range a.NumField() {
			if !alike(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice:
		if a.Len() != b.Len() || a.IsNil() != b.IsNil() {
			return false
		}
		for i := range a.Len() {
			if !alike(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	case reflect.Float64:
		return math.Float64bits(a.Float()) == math.Float64bits(b.Float())
	}
	if z, ok := a.Interface().(*time.Location); ok {
		return sameZone(z, b.Interface().(*time.Location))
	}
	return a.Interface() == b.Interface()
}

// sameZone takes zones of a fixed offset for the same when name and offset are.
func sameZone(a, b *time.Location) bool {
	if a == nil || b == nil || a == b {
		return a == b
	}
	if a == lisbon || b == lisbon {
		return false
	}
	at := time.Unix(1e9, 0)
	nameA, offsetA := at.In(a).Zone()
	nameB, offsetB := at.In(b).Zone()
	return nameA == nameB && offsetA == offsetB
}

// lisbon stands for the zones that a study names.
var lisbon = func() *time.Location {
	z, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		panic(err)
	}
	return z
}()

func TestPackKeepsEveryField(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	p := Packer{Zones: []*time.Location{time.UTC, lisbon}}
	for i := range 300 {
		var was Recording
		if i > 0 { // the first is the zero recording
			filled(reflect.ValueOf(&was).Elem(), r)
		}
		data := p.Pack(nil, &was)
		now, err := p.Unpack(data)
		if now.Part != 0 {
			t.Errorf("part %d of bytes that hold none", now.Part)
		}
		now.Part = was.Part
		if err != nil || !alike(reflect.ValueOf(was), reflect.ValueOf(now)) {
			t.Fatalf("recording %d: %v\n%+v\n%+v", i, err, was, now)
		}
		if _, err := p.Unpack(append(data, 0)); !errors.Is(err, ErrPacked) {
			t.Fatalf("a byte too many: %v", err)
		}
		if _, err := p.Unpack(data[:len(data)-1]); !errors.Is(err, ErrPacked) {
			t.Fatalf("a byte too few: %v", err)
		}
	}
}

func FuzzUnpack(f *testing.F) {
	r := rand.New(rand.NewPCG(3, 4))
	p := Packer{Zones: []*time.Location{time.UTC, lisbon}}
	for range 5 {
		var was Recording
		filled(reflect.ValueOf(&was).Elem(), r)
		f.Add(p.Pack(nil, &was))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		was, err := p.Unpack(data)
		if err != nil {
			if !errors.Is(err, ErrPacked) {
				t.Fatal(err)
			}
			return
		}
		if now, err := p.Unpack(p.Pack(nil, &was)); err != nil || !alike(reflect.ValueOf(was), reflect.ValueOf(now)) {
			t.Fatalf("packed again: %v", err)
		}
	})
}

func BenchmarkPack(b *testing.B) {
	r := Recording{FileID: "f-1", Kind: FromSheet, Swimmer: "s-1", Zone: time.UTC, Start: time.Unix(1, 0).UTC(), PoolM: 25}
	none := math.NaN()
	for i := range 8000 {
		r.Lengths = append(r.Lengths, Length{Record: int64(i + 1), Kind: KindLength, Lap: -1, Swim: i/8 + 1, Covers: 1, StartS: none, DurationS: 20.25, PoolM: none,
			Stroke: "freestyle", Strokes: 18, RestS: none, WallTimeS: none, End: Reading{HRBPM: none, DelayS: none},
			Tags: Tags{RateTargetSPM: 54, Breathing: none, RPE: none, LactateMMOL: none, LactateBefore: none, VO2: none}})
	}
	p := Packer{Zones: []*time.Location{time.UTC, lisbon}}
	var data []byte
	for b.Loop() {
		data = p.Pack(data[:0], &r)
		if _, err := p.Unpack(data); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(data))/8000, "bytes/length")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/8000, "ns/length")
}
