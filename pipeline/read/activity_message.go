package read

import (
	"encoding/binary"
	"math"

	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

// fitSlot names a field that the reader wants, whatever message it is in.
type fitSlot uint8

const (
	fitUnwanted fitSlot = iota
	fitTimestamp
	fitLocalTimestamp
	fitMessageIndex
	fitFileType
	fitSerial
	fitCreated
	fitDeviceIndex
	fitDeviceType
	fitSourceType
	fitStartTime
	fitElapsed
	fitTimer
	fitSport
	fitSubSport
	fitPoolLength
	fitActiveLengths
	fitFirstLength
	fitNumLengths
	fitTotalStrokes
	fitSwimStroke
	fitCadence
	fitSpeed
	fitLengthType
	fitHeartRate
	fitFraction
	fitTime256
	fitFilteredBPM
	fitEventTime
	fitEventTime12
	fitSlots // how many there are
)

// fitSlotOf is the list of the fields that are read; all others are skipped
// as bytes. Nothing on it tells who or where the swimmer is but the serial
// number, which becomes a keyed hash.
func fitSlotOf(mesg typedef.MesgNum, num byte) fitSlot {
	if num == proto.FieldNumTimestamp {
		return fitTimestamp // of every message: short time stamps count on from it
	}
	switch mesg {
	case mesgnum.FileId:
		switch num {
		case fieldnum.FileIdType:
			return fitFileType
		case fieldnum.FileIdSerialNumber:
			return fitSerial
		case fieldnum.FileIdTimeCreated:
			return fitCreated
		}
	case mesgnum.DeviceInfo:
		switch num {
		case fieldnum.DeviceInfoDeviceIndex:
			return fitDeviceIndex
		case fieldnum.DeviceInfoDeviceType:
			return fitDeviceType
		case fieldnum.DeviceInfoSourceType:
			return fitSourceType
		case fieldnum.DeviceInfoSerialNumber:
			return fitSerial
		}
	case mesgnum.Activity:
		if num == fieldnum.ActivityLocalTimestamp {
			return fitLocalTimestamp
		}
	case mesgnum.Session:
		switch num {
		case fieldnum.SessionStartTime:
			return fitStartTime
		case fieldnum.SessionTotalElapsedTime:
			return fitElapsed
		case fieldnum.SessionSport:
			return fitSport
		case fieldnum.SessionSubSport:
			return fitSubSport
		case fieldnum.SessionPoolLength:
			return fitPoolLength
		case fieldnum.SessionNumActiveLengths:
			return fitActiveLengths
		}
	case mesgnum.Lap:
		switch num {
		case fieldnum.LapStartTime:
			return fitStartTime
		case fieldnum.LapTotalElapsedTime:
			return fitElapsed
		case fieldnum.LapTotalTimerTime:
			return fitTimer
		case fieldnum.LapNumLengths:
			return fitNumLengths
		case fieldnum.LapFirstLengthIndex:
			return fitFirstLength
		case fieldnum.LapNumActiveLengths:
			return fitActiveLengths
		}
	case mesgnum.Length:
		switch num {
		case fieldnum.LengthMessageIndex:
			return fitMessageIndex
		case fieldnum.LengthStartTime:
			return fitStartTime
		case fieldnum.LengthTotalElapsedTime:
			return fitElapsed
		case fieldnum.LengthTotalTimerTime:
			return fitTimer
		case fieldnum.LengthTotalStrokes:
			return fitTotalStrokes
		case fieldnum.LengthSwimStroke:
			return fitSwimStroke
		case fieldnum.LengthAvgSwimmingCadence:
			return fitCadence
		case fieldnum.LengthAvgSpeed:
			return fitSpeed
		case fieldnum.LengthLengthType:
			return fitLengthType
		}
	case mesgnum.Record:
		if num == fieldnum.RecordHeartRate {
			return fitHeartRate
		}
	case mesgnum.Hr:
		switch num {
		case fieldnum.HrFractionalTimestamp:
			return fitFraction
		case fieldnum.HrTime256:
			return fitTime256
		case fieldnum.HrFilteredBpm:
			return fitFilteredBPM
		case fieldnum.HrEventTimestamp:
			return fitEventTime
		case fieldnum.HrEventTimestamp12:
			return fitEventTime12
		}
	}
	return fitUnwanted
}

// fitField is where a wanted field lies in a data message.
type fitField struct {
	slot     fitSlot
	base     basetype.BaseType // as the file has it, not as the profile would
	at, size int
	first    int // index of the message's first field of the same slot
}

// fitDefinition is what a definition message says of the data messages that
// follow under its local number.
type fitDefinition struct {
	mesg    typedef.MesgNum
	defined bool
	big     bool // big-endian
	twice   bool // a wanted field occurs more than once
	fields  []fitField
}

// define reads a definition message, at least six bytes with all its field
// definitions.
func (d *fitDefinition) define(b []byte) {
	d.defined, d.twice, d.fields = true, false, d.fields[:0]
	d.big = b[2] != proto.LittleEndian
	d.mesg = typedef.MesgNum(fitUint(b[3:5], d.big))
	at := 1                // after the message's own header
	var seen [fitSlots]int // one more than the index of the first
	for defs := b[6 : 6+3*int(b[5])]; len(defs) > 0; defs = defs[3:] {
		size := int(defs[1])
		if slot := fitSlotOf(d.mesg, defs[0]); slot != fitUnwanted && size > 0 {
			if seen[slot] == 0 {
				seen[slot] = len(d.fields) + 1
			} else {
				d.twice = true
			}
			d.fields = append(d.fields, fitField{slot: slot, base: basetype.BaseType(defs[2]), at: at, size: size, first: seen[slot] - 1})
		}
		at += size
	}
}

// fitMessage is a data message with its definition.
type fitMessage struct {
	*fitDefinition
	b []byte
}

// field is the first field of a slot.
func (m fitMessage) field(slot fitSlot) (fitField, bool) {
	for _, f := range m.fields {
		if f.slot == slot {
			return f, true
		}
	}
	return fitField{}, false
}

// number is the first valid value of a slot.
func (m fitMessage) number(slot fitSlot) (uint64, bool) {
	for _, f := range m.fields {
		if f.slot == slot {
			if v, ok := m.element(f, 0); ok {
				return v, true
			}
		}
	}
	return 0, false
}

// number32 is number for fields of up to 32 bits; missing is the answer when
// there is none.
func (m fitMessage) number32(slot fitSlot, missing uint32) uint32 {
	if v, ok := m.number(slot); ok && v <= 0xFFFFFFFF {
		return uint32(v)
	}
	return missing
}

// scaled is number over scale, NaN when there is none.
func (m fitMessage) scaled(slot fitSlot, scale float64) float64 {
	if v, ok := m.number(slot); ok {
		return float64(v) / scale
	}
	return math.NaN()
}

// element is the i-th element of a field as a non-negative integer. It is
// not ok when the field is too narrow for it, when its type is no integer, and
// when the value is the type's mark for invalid.
func (m fitMessage) element(f fitField, i int) (uint64, bool) {
	if !f.base.Valid() {
		return 0, false
	}
	width := int(f.base.Size())
	if (i+1)*width > f.size {
		return 0, false
	}
	v := fitUint(m.b[f.at+i*width:f.at+(i+1)*width], m.big)
	ones := ^uint64(0) >> (64 - 8*width)
	switch f.base {
	case basetype.Enum, basetype.Byte, basetype.Uint8, basetype.Uint16, basetype.Uint32, basetype.Uint64:
		return v, v != ones
	case basetype.Uint8z, basetype.Uint16z, basetype.Uint32z, basetype.Uint64z:
		return v, v != 0
	case basetype.Sint8, basetype.Sint16, basetype.Sint32, basetype.Sint64:
		return v, v < ones>>1 // the largest is the mark, those above are negative
	}
	return 0, false
}

// bytes is a field of single bytes as it stands, nil when it is none.
func (m fitMessage) bytes(slot fitSlot) []byte {
	f, ok := m.field(slot)
	if !ok || !f.base.Valid() || f.base.Size() != 1 || f.base == basetype.String {
		return nil
	}
	return m.b[f.at : f.at+f.size]
}

// contradicts tells whether a field that occurs twice holds two values.
func (m fitMessage) contradicts() bool {
	if !m.twice {
		return false
	}
	for _, f := range m.fields {
		v, ok := m.element(f, 0)
		w, also := m.element(m.fields[f.first], 0)
		if ok && also && v != w {
			return true
		}
	}
	return false
}

// fitUint reads an unsigned integer of 1, 2, 4 or 8 bytes.
func fitUint(b []byte, big bool) uint64 {
	switch {
	case len(b) == 1:
		return uint64(b[0])
	case len(b) == 2 && big:
		return uint64(binary.BigEndian.Uint16(b))
	case len(b) == 2:
		return uint64(binary.LittleEndian.Uint16(b))
	case len(b) == 4 && big:
		return uint64(binary.BigEndian.Uint32(b))
	case len(b) == 4:
		return uint64(binary.LittleEndian.Uint32(b))
	case big:
		return binary.BigEndian.Uint64(b)
	}
	return binary.LittleEndian.Uint64(b)
}
