package activityfile

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

// Numbers of our own: the manufacturer reserved for development, and a product
// that does not exist.
const (
	manufacturer  = 255
	product       = 4711
	activityFile  = 4
	softwareField = fieldnum.DeviceInfoSoftwareVersion
)

// placed is a message with the second at which a recorder would write it. Ties
// keep the order of insertion.
type placed struct {
	at   float64
	rank int // 0 body, 1 summary
	proto.Message
}

type builder struct {
	a    *Activity
	q    *Quirks
	slab fieldSlab
	out  []placed
}

// activityMessages lays out the messages of the activity's own sequence.
func activityMessages(a *Activity, q *Quirks) []proto.Message {
	b := &builder{a: a, q: q, out: make([]placed, 0, len(a.Records)+len(a.Lengths)+len(a.Laps)+16)}
	head := b.preamble()
	b.records()
	b.lengths()
	b.laps()
	b.summary()

	switch q.Order {
	case ByTime:
		slices.SortStableFunc(b.out, func(x, y placed) int {
			return cmp.Or(cmp.Compare(x.rank, y.rank), cmp.Compare(x.at, y.at))
		})
	case SummaryFirst:
		first := func(p placed) int {
			return slices.Index([]typedef.MesgNum{
				mesgnum.Session, mesgnum.Activity, mesgnum.Lap, mesgnum.Length, mesgnum.Record,
			}, p.Num)
		}
		slices.SortStableFunc(b.out, func(x, y placed) int { return cmp.Compare(first(x), first(y)) })
	case Shuffled:
		b.shuffle()
	}
	messages := make([]proto.Message, 0, len(head)+len(b.out))
	messages = append(messages, head...)
	for i := range b.out {
		messages = append(messages, b.out[i].Message)
	}
	return messages
}

// stamp is a date_time: whole seconds since the protocol's epoch, by the
// recorder's clock.
func (b *builder) stamp(seconds float64) uint32 {
	if b.q.ClockBackSeconds > 0 && seconds >= b.q.ClockBackAt {
		seconds -= b.q.ClockBackSeconds
	}
	return uint32(b.a.StartUTC.Sub(epoch)/time.Second) + uint32(int64(math.Floor(seconds)))
}

// shuffle puts lengths and laps in no order, the same one each time.
func (b *builder) shuffle() {
	slices.SortStableFunc(b.out, func(x, y placed) int {
		return cmp.Or(cmp.Compare(x.rank, y.rank), cmp.Compare(x.at, y.at))
	})
	var at []int
	for i := range b.out {
		if m := b.out[i].Num; m == mesgnum.Length || m == mesgnum.Lap {
			at = append(at, i)
		}
	}
	r := rand.New(rand.NewPCG(uint64(len(at)), 0))
	r.Shuffle(len(at), func(i, j int) { b.out[at[i]], b.out[at[j]] = b.out[at[j]], b.out[at[i]] })
}

func (b *builder) place(at float64, rank int, d *draft) {
	b.out = append(b.out, placed{at, rank, d.Message})
}

// duration is the time from the activity's start to the end of its last message.
func (a *Activity) duration() float64 {
	end := 0.0
	for _, l := range a.Laps {
		end = max(end, l.StartSeconds+l.DurationSeconds)
	}
	if n := len(a.Records); n > 0 && len(a.Laps) == 0 {
		end = a.Records[n-1].Seconds
	}
	return end
}

// preamble is what precedes all messages with a place in time.
func (b *builder) preamble() []proto.Message {
	a, q := b.a, b.q
	id := b.slab.draft(mesgnum.FileId, 6).
		u8(fieldnum.FileIdType, activityFile).
		u16(fieldnum.FileIdManufacturer, manufacturer).
		u16(fieldnum.FileIdProduct, product).
		u32(fieldnum.FileIdSerialNumber, a.Serial).
		u32(fieldnum.FileIdTimeCreated, b.stamp(q.CreatedDelaySeconds))
	if a.ProductName != "" {
		id.text(fieldnum.FileIdProductName, a.ProductName)
	}
	software := uint16(310)
	if q.OtherSoftware {
		software = 412
	}
	device := b.slab.draft(mesgnum.DeviceInfo, 6).
		u32(fieldnum.DeviceInfoTimestamp, b.stamp(0)).
		u8(fieldnum.DeviceInfoDeviceIndex, 0).
		u16(fieldnum.DeviceInfoManufacturer, manufacturer).
		u16(fieldnum.DeviceInfoProduct, product).
		u32(fieldnum.DeviceInfoSerialNumber, a.Serial).
		u16(softwareField, software)
	out := []proto.Message{id.Message, device.Message}
	if p := a.Profile; p != nil {
		sex := uint8(1)
		if p.Female {
			sex = 0
		}
		d := b.slab.draft(mesgnum.UserProfile, 6).
			text(fieldnum.UserProfileFriendlyName, p.Name).
			u8(fieldnum.UserProfileGender, sex).
			scaled16(fieldnum.UserProfileWeight, p.MassKG, 10).
			u8(fieldnum.UserProfileHeight, uint8(math.Round(100*p.HeightM))).
			u8(fieldnum.UserProfileRestingHeartRate, p.RestingBPM)
		if p.MaxBPM > 0 {
			d.u8(fieldnum.UserProfileDefaultMaxHeartRate, p.MaxBPM)
		}
		out = append(out, d.Message)
	}
	if q.UnknownMessages {
		out = append(out, b.slab.draft(0xFF00, 2).
			unknown(0, basetype.Uint16, proto.Uint16(7)).
			unknown(1, basetype.Byte, proto.SliceUint8([]uint8{1, 2, 3, 4, 5})).Message)
	}
	if q.DeveloperFields {
		out = append(out, b.developerApp("first app", "ripple")...)
		out = append(out, b.developerApp("other app", "chop")...)
	}
	start := b.slab.draft(mesgnum.Event, 3).
		u32(fieldnum.EventTimestamp, b.stamp(0)).
		u8(fieldnum.EventEvent, 0).
		u8(fieldnum.EventEventType, 0)
	return append(out, start.Message)
}

// developerApp declares one developer field. Every app here takes index 0.
func (b *builder) developerApp(app, field string) []proto.Message {
	id := make([]uint8, 16)
	copy(id, app)
	return []proto.Message{
		b.slab.draft(mesgnum.DeveloperDataId, 2).
			bytes(fieldnum.DeveloperDataIdApplicationId, id).
			u8(fieldnum.DeveloperDataIdDeveloperDataIndex, 0).Message,
		b.slab.draft(mesgnum.FieldDescription, 4).
			u8(fieldnum.FieldDescriptionDeveloperDataIndex, 0).
			u8(fieldnum.FieldDescriptionFieldDefinitionNumber, 0).
			u8(fieldnum.FieldDescriptionFitBaseTypeId, uint8(basetype.Uint8)).
			set(fieldnum.FieldDescriptionFieldName, proto.SliceString([]string{field})).Message,
	}
}

func (b *builder) records() {
	for i := range b.a.Records {
		r := &b.a.Records[i]
		d := b.slab.draft(mesgnum.Record, 5).u32(fieldnum.RecordTimestamp, b.stamp(r.Seconds))
		if r.Position {
			const perDegree = (1 << 31) / 180.0
			d.set(fieldnum.RecordPositionLat, proto.Int32(int32(r.Lat*perDegree)))
			d.set(fieldnum.RecordPositionLong, proto.Int32(int32(r.Lon*perDegree)))
		}
		if r.BPM >= 0 {
			d.u8(fieldnum.RecordHeartRate, uint8(min(255, r.BPM)))
		}
		if r.DistanceMetres >= 0 {
			d.scaled32(fieldnum.RecordDistance, r.DistanceMetres, 100)
		}
		if b.q.DeveloperFields {
			d.DeveloperFields = []proto.DeveloperField{{Num: 0, DeveloperDataIndex: 0, Value: proto.Uint8(uint8(i % 200))}}
		}
		b.place(r.Seconds, 0, d)
	}
}

// lengths writes each lap's lengths; lengths that no lap owns are written as a
// lap of their own would.
func (b *builder) lengths() {
	owner := make([]int, len(b.a.Lengths))
	for i := range owner {
		owner[i] = -1
	}
	for k, lap := range b.a.Laps {
		for i := lap.FirstLength; i < lap.FirstLength+lap.Lengths; i++ {
			owner[i] = k
		}
	}
	idle := 0
	for i := range b.a.Lengths {
		l := b.a.Lengths[i]
		lapStart, lapEnd := l.StartSeconds, l.StartSeconds+l.DurationSeconds
		if k := owner[i]; k >= 0 {
			lapStart = b.a.Laps[k].StartSeconds
			lapEnd = lapStart + b.a.Laps[k].DurationSeconds
		}
		if l.Idle {
			if b.q.ZeroIdleDurations && idle%2 == 0 {
				l.DurationSeconds = 0
			}
			idle++
		}
		b.length(i, l, lapStart, lapEnd)
	}
}

func (b *builder) length(i int, l Length, lapStart, lapEnd float64) {
	q := b.q
	end := l.StartSeconds + l.DurationSeconds
	start := l.StartSeconds
	if lapEnd > lapStart {
		start += q.StartDriftSeconds * (l.StartSeconds - lapStart) / (lapEnd - lapStart)
	}
	if q.WallSecondsOut > 0 && !l.Idle && b.followedAtOnce(i) {
		l.DurationSeconds = max(0.5, l.DurationSeconds-q.WallSecondsOut)
	}
	written, stamp := end, b.stamp(end)
	switch q.LengthTimestamps {
	case TimestampLate:
		written = lapEnd + q.LateSeconds
		stamp = b.stamp(written)
	case TimestampInvalid:
		stamp = basetype.Uint32Invalid
	}
	d := b.slab.draft(mesgnum.Length, 14).
		u32(fieldnum.LengthTimestamp, stamp).
		u16(fieldnum.LengthMessageIndex, uint16(i)).
		u8(fieldnum.LengthEvent, uint8(typedef.EventLength)).
		u8(fieldnum.LengthEventType, uint8(typedef.EventTypeStop)).
		u32(fieldnum.LengthStartTime, b.stamp(start)).
		scaled32(fieldnum.LengthTotalElapsedTime, l.DurationSeconds, 1000).
		scaled32(fieldnum.LengthTotalTimerTime, l.DurationSeconds, 1000)
	if l.Idle {
		d.u8(fieldnum.LengthLengthType, uint8(typedef.LengthTypeIdle))
		b.place(written, 0, d)
		return
	}
	d.u8(fieldnum.LengthLengthType, uint8(typedef.LengthTypeActive))
	if q.Widths == Wider {
		d.bytes(fieldnum.LengthSwimStroke, []uint8{uint8(l.Stroke), 5})
	} else {
		d.u8(fieldnum.LengthSwimStroke, uint8(l.Stroke))
	}
	speed := 0.0
	if l.Stroke != Drill && l.DurationSeconds > 0 {
		speed = b.a.PoolMetres / l.DurationSeconds
	}
	d.scaled16(fieldnum.LengthAvgSpeed, speed, 1000)
	if q.DuplicateField {
		d.scaled16(fieldnum.LengthAvgSpeed, speed+0.1, 1000)
	}
	b.strokes(d, l)
	if q.UnknownMessages {
		d.unknown(120, basetype.Uint8, proto.Uint8(9))
	}
	b.place(written, 0, d)
}

// strokes writes the count and the cadence made from it: round(60 n/t).
func (b *builder) strokes(d *draft, l Length) {
	n, cadence := uint16(0), 0.0
	switch {
	case l.Strokes >= 0:
		n = uint16(min(l.Strokes, 65534))
		if l.DurationSeconds > 0 {
			cadence = math.Round(60 * float64(n) / l.DurationSeconds)
		}
	case b.q.NoStrokes == StrokesUndefined:
		return
	case b.q.NoStrokes == StrokesInvalid:
		n, cadence = basetype.Uint16Invalid, 255
	}
	invalid := n == basetype.Uint16Invalid
	switch {
	case b.q.Widths == Narrower && (invalid || n < 255):
		d.typed(fieldnum.LengthTotalStrokes, basetype.Uint8, proto.Uint8(uint8(n)))
	case b.q.Widths == Wider:
		d.typed(fieldnum.LengthTotalStrokes, basetype.Uint16, proto.SliceUint16([]uint16{n, 77, basetype.Uint16Invalid}))
	default:
		d.u16(fieldnum.LengthTotalStrokes, n)
	}
	if b.q.StrokesTwice && !invalid {
		d.u16(fieldnum.LengthTotalStrokes, n+13)
	}
	d.u8(fieldnum.LengthAvgSwimmingCadence, uint8(min(255, cadence)))
}

// followedAtOnce reports whether another active length starts as this one ends.
func (b *builder) followedAtOnce(i int) bool {
	ls := b.a.Lengths
	return i+1 < len(ls) && !ls[i+1].Idle && ls[i+1].StartSeconds-ls[i].StartSeconds-ls[i].DurationSeconds < 0.5
}
