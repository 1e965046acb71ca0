package read

import (
	"math"

	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

const (
	fitNever     = 0          // a time that is not given
	fitNone      = 0xFFFFFFFF // a number that is not given
	fitClockFrom = 0x10000000 // times before it count from power-on, not from the epoch (the protocol's date_time)
	fitEpoch     = 631065600  // Unix seconds of the protocol's epoch, 1989-12-31 00:00:00 UTC
)

// fitUnix is a time in Unix seconds, 0 when it is none.
func fitUnix(t uint32) int64 {
	if t < fitClockFrom || t == fitNone {
		return 0
	}
	return int64(t) + fitEpoch
}

// activityLimits bounds what one file may hold, far above what a recorder
// writes, so that a hostile file cannot fill the memory.
type activityLimits struct{ sessions, laps, lengths, beats int }

func activityDefaultLimits() activityLimits {
	return activityLimits{sessions: 100, laps: 20_000, lengths: 100_000, beats: 2_000_000}
}

// activityCollector keeps what the reader needs of each message as it comes.
// It counts records itself, before anything is decided about them.
type activityCollector struct {
	limits   activityLimits
	counts   Counts
	groups   []activityGroup
	sessions []activitySummary
	laps     []activityLap
	lengths  []activityLength
	beats    []activityBeat
	twice    int64 // length messages in which one field holds two values
	messages int64 // so far
	files    []activityFileType

	defs       [proto.LocalMesgNumMask + 1]fitDefinition
	clock      uint32 // of the message before, for short time stamps
	hasFile    bool   // this sequence has had its file_id
	anchored   bool
	anchor     fitAnchor
	beatBefore float64 // time of the beat before in the block of hr messages, NaN when there is none
}

// activityFileType is the type of file that a file_id states.
type activityFileType struct {
	typ    typedef.File
	offset int64
}

// activityGroup is what belongs together in a file: a sequence that starts
// with a file_id, and those without one that follow it.
type activityGroup struct {
	number                   int
	fileSerial, deviceSerial uint32 // 0 when not given
	created                  uint32
	hasLocal                 bool
	utc, local               uint32
	strap, wrist             bool // sensors that the recorder names
	logStarted               bool // a strap's sample has been seen
}

func (g *activityGroup) serial() uint32 {
	if g.fileSerial != 0 {
		return g.fileSerial
	}
	return g.deviceSerial
}

// activitySummary is a session message.
type activitySummary struct {
	group           int
	at              int64   // its place among the file's messages
	start           float64 // seconds since the protocol's epoch, NaN when not given
	elapsedS        float64
	poolM           float64
	sport, subSport uint32
	active          uint32
}

// activityLap is a lap message.
type activityLap struct {
	group              int
	at                 int64 // its place among the file's messages
	start              float64
	durationS          float64
	first, num, active uint32
}

// activityLength is a length message, a pool length or a rest.
type activityLength struct {
	group           int
	at              int64 // its place among the file's messages
	record          int64
	rest            bool
	index           uint32
	start           float64
	durationS       float64
	strokes, stroke uint32
	cadence         float64 // strokes/min
	speed           float64 // m/s
	fate            int32
}

// activityBeat is one heart-rate sample.
type activityBeat struct {
	timeS float64 // seconds since the protocol's epoch, NaN when not known
	group int32
	fate  int32
	swim  int32 // the session it falls in
	bpm   uint8
	strap bool // from hr messages
	first bool
}

// isRate tells a heart rate from the two ways of writing that there is none.
func (b *activityBeat) isRate() bool { return b.bpm > 0 && b.bpm < 255 }

// newActivityCollector expects a file of some bytes, of which a sample takes
// about twenty.
func newActivityCollector(limits activityLimits, size int) *activityCollector {
	return &activityCollector{limits: limits, beats: make([]activityBeat, 0, min(size/20, limits.beats))}
}

// startSequence forgets what holds for one sequence only.
func (c *activityCollector) startSequence() {
	for i := range c.defs {
		c.defs[i].defined = false
	}
	c.clock, c.hasFile, c.anchored = fitNever, false, false
	c.beatBefore = math.NaN()
	if len(c.groups) == 0 {
		c.groups = append(c.groups, activityGroup{})
	}
}

// otherKindOfFile tells whether the file says that it is of a type other than
// activity and holds nothing of one.
func (c *activityCollector) otherKindOfFile() (kind string, offset int64, other bool) {
	if len(c.files) == 0 || len(c.sessions) > 0 || c.counts.Lengths > 0 || c.counts.Rests > 0 {
		return "", 0, false
	}
	for _, f := range c.files {
		if f.typ == typedef.FileActivity || f.typ == typedef.FileInvalid {
			return "", 0, false
		}
	}
	return c.files[0].typ.String(), c.files[0].offset, true
}

// define takes a definition message.
func (c *activityCollector) define(b []byte) { c.defs[b[0]&proto.LocalMesgNumMask].define(b) }

// message takes a data message, which starts at a byte of the file.
func (c *activityCollector) message(b []byte, offset int64) {
	m := fitMessage{fitDefinition: &c.defs[proto.LocalMesgNum(b[0])], b: b}
	if !m.defined {
		return
	}
	c.messages++
	now := m.number32(fitTimestamp, fitNever)
	if short := b[0]&proto.MesgCompressedHeaderMask != 0; short && now == fitNever && c.clock != fitNever {
		// Five bits of a clock that has only gone on since the last message.
		now = c.clock + (uint32(b[0])-c.clock)&proto.CompressedTimeMask
	}
	if now != fitNever {
		c.clock = now
	}
	switch m.mesg {
	case mesgnum.FileId:
		c.fileID(m, offset)
	case mesgnum.DeviceInfo:
		c.deviceInfo(m)
	case mesgnum.Activity:
		g := c.group()
		g.utc = now
		g.local = m.number32(fitLocalTimestamp, fitNever)
		g.hasLocal = fitUnix(g.utc) != 0 && fitUnix(g.local) != 0
	case mesgnum.Session:
		c.session(m)
	case mesgnum.Lap:
		c.lap(m)
	case mesgnum.Length:
		c.length(m)
	case mesgnum.Record:
		c.record(m, now)
	case mesgnum.Hr:
		c.hr(m, now)
	}
}

func (c *activityCollector) group() *activityGroup { return &c.groups[len(c.groups)-1] }

// fileID opens a group. The very first one may already hold messages that
// came before.
func (c *activityCollector) fileID(m fitMessage, offset int64) {
	if c.hasFile || len(c.files) >= c.limits.sessions {
		return
	}
	if len(c.files) > 0 {
		c.groups = append(c.groups, activityGroup{number: len(c.groups)})
	}
	c.hasFile = true
	c.files = append(c.files, activityFileType{typedef.File(m.number32(fitFileType, uint32(typedef.FileInvalid))), offset})
	g := c.group()
	g.fileSerial = m.number32(fitSerial, 0)
	g.created = m.number32(fitCreated, fitNever)
}

func (c *activityCollector) deviceInfo(m fitMessage) {
	g := c.group()
	if index, ok := m.number(fitDeviceIndex); ok && index == 0 { // the recorder itself
		g.deviceSerial = m.number32(fitSerial, g.deviceSerial)
	}
	kind, ok := m.number(fitDeviceType)
	if !ok {
		return
	}
	source, stated := m.number(fitSourceType)
	switch {
	// Older recorders state no source; the type was then always this list's.
	case (!stated || source == uint64(typedef.SourceTypeAntplus)) && kind == uint64(typedef.AntplusDeviceTypeHeartRate),
		stated && source == uint64(typedef.SourceTypeBluetoothLowEnergy) && kind == uint64(typedef.BleDeviceTypeHeartRate):
		g.strap = true
	case stated && source == uint64(typedef.SourceTypeLocal) && kind == uint64(typedef.LocalDeviceTypeWhr):
		g.wrist = true
	}
}

func (c *activityCollector) session(m fitMessage) {
	if len(c.sessions) >= c.limits.sessions {
		return
	}
	pool := m.scaled(fitPoolLength, 100) // metres, whatever unit the recorder shows
	if pool == 0 {
		pool = math.NaN()
	}
	c.sessions = append(c.sessions, activitySummary{
		group: len(c.groups) - 1, at: c.messages, start: m.scaled(fitStartTime, 1),
		elapsedS: m.scaled(fitElapsed, 1000), poolM: pool,
		sport: m.number32(fitSport, fitNone), subSport: m.number32(fitSubSport, fitNone),
		active: m.number32(fitActiveLengths, fitNone),
	})
}

func (c *activityCollector) lap(m fitMessage) {
	if len(c.laps) >= c.limits.laps {
		return
	}
	c.laps = append(c.laps, activityLap{
		group: len(c.groups) - 1, at: c.messages, start: m.scaled(fitStartTime, 1), durationS: fitDuration(m),
		first: m.number32(fitFirstLength, fitNone), num: m.number32(fitNumLengths, fitNone),
		active: m.number32(fitActiveLengths, fitNone),
	})
}

// fitDuration is the elapsed time in seconds, the timer's where there is none.
func fitDuration(m fitMessage) float64 {
	if d := m.scaled(fitElapsed, 1000); !math.IsNaN(d) {
		return d
	}
	return m.scaled(fitTimer, 1000)
}

// length counts by length type: the sums in summaries mean different things
// on different recorders. What is neither a pool length nor a rest counts as a
// length and is excluded.
func (c *activityCollector) length(m fitMessage) {
	typ, ok := m.number(fitLengthType)
	l := activityLength{group: len(c.groups) - 1, at: c.messages}
	switch {
	case ok && typ == uint64(typedef.LengthTypeIdle):
		c.counts.Rests++
		l.rest, l.record = true, c.counts.Rests
	case ok && typ == uint64(typedef.LengthTypeActive):
		c.counts.Lengths++
		l.record = c.counts.Lengths
	default:
		c.counts.Lengths++
		l.record, l.fate = c.counts.Lengths, activityNoType
	}
	if len(c.lengths) >= c.limits.lengths {
		return
	}
	if m.contradicts() {
		c.twice++
	}
	l.index = m.number32(fitMessageIndex, fitNone)
	l.start = m.scaled(fitStartTime, 1)
	l.durationS = fitDuration(m)
	l.strokes = m.number32(fitTotalStrokes, fitNone)
	l.stroke = m.number32(fitSwimStroke, fitNone)
	l.cadence = m.scaled(fitCadence, 1)
	l.speed = m.scaled(fitSpeed, 1000)
	c.lengths = append(c.lengths, l)
}

// record takes the heart rate of a record message, whatever its value; a
// record without the field is no heart-rate sample.
func (c *activityCollector) record(m fitMessage, now uint32) {
	f, ok := m.field(fitHeartRate)
	if !ok {
		return
	}
	beat := activityBeat{timeS: math.NaN(), bpm: 255}
	if v, ok := m.element(f, 0); ok && v < 255 {
		beat.bpm = uint8(v)
	}
	if now != fitNever {
		beat.timeS = float64(now)
	}
	c.beat(beat)
}

// beat counts a sample and keeps it.
func (c *activityCollector) beat(beat activityBeat) {
	c.counts.HeartRate++
	if len(c.beats) >= c.limits.beats {
		return
	}
	beat.group = int32(len(c.groups) - 1)
	if math.IsNaN(beat.timeS) {
		beat.fate = activityNoTime
	}
	c.beats = append(c.beats, beat)
}
