package activityfile

import (
	"math"

	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/factory"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/proto"
)

// fieldSlab hands out field lists from one growing block, so that a record costs
// no allocation of its own.
type fieldSlab struct{ free []proto.Field }

// take returns an empty list with room for n fields.
func (s *fieldSlab) take(n int) []proto.Field {
	if cap(s.free)-len(s.free) < n {
		s.free = make([]proto.Field, 0, max(4096, n))
	}
	at := len(s.free)
	s.free = s.free[:at+n]
	return s.free[at : at : at+n]
}

// draft is a message being filled.
type draft struct{ proto.Message }

func (s *fieldSlab) draft(num typedef.MesgNum, fields int) *draft {
	return &draft{proto.Message{Num: num, Fields: s.take(fields)}}
}

func (d *draft) set(num byte, v proto.Value) *draft {
	f := factory.CreateField(d.Num, num)
	f.Value = v
	d.Fields = append(d.Fields, f)
	return d
}

func (d *draft) u8(num byte, v uint8) *draft      { return d.set(num, proto.Uint8(v)) }
func (d *draft) u16(num byte, v uint16) *draft    { return d.set(num, proto.Uint16(v)) }
func (d *draft) u32(num byte, v uint32) *draft    { return d.set(num, proto.Uint32(v)) }
func (d *draft) text(num byte, v string) *draft   { return d.set(num, proto.String(v)) }
func (d *draft) bytes(num byte, v []uint8) *draft { return d.set(num, proto.SliceUint8(v)) }

// scaled16 and scaled32 write round(v*scale), or the invalid value where that does
// not fit.
func (d *draft) scaled16(num byte, v, scale float64) *draft {
	u := math.Round(v * scale)
	if !(u >= 0 && u < float64(basetype.Uint16Invalid)) {
		return d.u16(num, basetype.Uint16Invalid)
	}
	return d.u16(num, uint16(u))
}

func (d *draft) scaled32(num byte, v, scale float64) *draft {
	u := math.Round(v * scale)
	if !(u >= 0 && u < float64(basetype.Uint32Invalid)) {
		return d.u32(num, basetype.Uint32Invalid)
	}
	return d.u32(num, uint32(u))
}

// typed writes a value with a base type that need not be the profile's.
func (d *draft) typed(num byte, base basetype.BaseType, v proto.Value) *draft {
	f := *factory.CreateField(d.Num, num).FieldBase
	f.BaseType, f.Scale, f.Offset = base, 1, 0
	d.Fields = append(d.Fields, proto.Field{FieldBase: &f, Value: v})
	return d
}

// unknown appends a field that the profile does not know.
func (d *draft) unknown(num byte, base basetype.BaseType, v proto.Value) *draft {
	d.Fields = append(d.Fields, proto.Field{
		FieldBase: &proto.FieldBase{Name: factory.NameUnknown, Num: num, BaseType: base, Scale: 1},
		Value:     v,
	})
	return d
}
