package read

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/study"
)

// ActivitySource says what is known of an activity file before its bytes are
// read.
type ActivitySource struct {
	FileID  string
	Input   study.Input
	Zone    *time.Location // the study's; Input.TimeZone overrides it; nil means UTC
	Content string         // hex SHA-256 of the bytes

	// Owner answers who swam; device is the recorder's serial number as
	// decimal text, "" when there is none. The serial goes no further.
	Owner func(device string) identity.Owner
	// DeviceHash is the keyed hash that stands for a serial number.
	DeviceHash func(serial string) string
}

// NotActivityError says that bytes are no activity file at all.
type NotActivityError struct {
	FileID string
	Offset int64 // byte at which that shows
	Reason string
}

func (e *NotActivityError) Error() string {
	return fmt.Sprintf("file %s is not an activity file: byte %d: %s; take it out of the inputs or give its input another kind",
		e.FileID, e.Offset, e.Reason)
}

// Activity reads an activity file in the published FIT protocol: every
// chained sequence, a cut or damaged file as far as it goes. Pool swims become
// recordings, one a session, with times, counts and heart rates as recorded.
// All else that was counted is in the entries, so that for every kind of
// record what was read is what is in the recordings plus what is excluded.
//
// Only the fields named in fitSlotOf are ever decoded: names, weights and
// positions never become values.
//
// The error is a *NotActivityError.
func Activity(data []byte, src ActivitySource) (File, error) {
	sequences, damage, err := fitSplit(data)
	if err != nil {
		return File{}, fmt.Errorf("read activity: %w", &NotActivityError{FileID: src.FileID, Offset: err.offset, Reason: err.reason})
	}
	c := newActivityCollector(activityDefaultLimits(), len(data))
	decoder := newFitDecoder()
	for _, seq := range sequences {
		damage = append(damage, decoder.decode(data, seq, c)...)
	}
	if kind, offset, other := c.otherKindOfFile(); other {
		return File{}, fmt.Errorf("read activity: %w", &NotActivityError{FileID: src.FileID, Offset: offset,
			Reason: fmt.Sprintf("the file says it is of type %s", kind)})
	}
	b := activityBuilder{src: src, c: c, zone: src.Zone}
	if src.Input.TimeZone != nil {
		b.zone = src.Input.TimeZone
	}
	if b.zone == nil {
		b.zone = time.UTC
	}
	return b.build(damage), nil
}

// activityBuilder turns what a file's messages held into recordings and
// entries.
type activityBuilder struct {
	src      ActivitySource
	c        *activityCollector
	zone     *time.Location
	sessions []activitySwim
	owners   []identity.Owner // by group
	fates    []activityFate   // why records are excluded; index 0 and 1 are undecided and used
	noted    []Entry
}

func (b *activityBuilder) build(damage []fitDamage) File {
	b.fates = make([]activityFate, activityFirstFate, activityFirstFate+8)
	for i := range b.c.groups {
		device := ""
		if serial := b.c.groups[i].serial(); serial != 0 {
			device = strconv.FormatUint(uint64(serial), 10)
		}
		owner := identity.Owner{}
		if b.src.Owner != nil {
			owner = b.src.Owner(device)
		}
		b.owners = append(b.owners, owner)
	}
	b.dropCounts()
	b.findSwims()
	b.assignLengths()
	for i := range b.sessions {
		b.span(&b.sessions[i])
		b.judge(&b.sessions[i])
	}
	b.assignBeats()

	f := File{ID: b.src.FileID, Counts: b.c.counts}
	for i := range b.sessions {
		if s := &b.sessions[i]; s.rule == "" {
			r := b.recording(s)
			r.Part = len(f.Recordings) + 1
			f.Recordings = append(f.Recordings, r)
		}
	}
	f.Entries = b.entries(damage, len(f.Recordings) > 0)
	return f
}

// recording builds a session's recording from the records that were assigned
// to it.
func (b *activityBuilder) recording(s *activitySwim) Recording {
	g := &b.c.groups[s.group]
	owner := b.owners[s.group]
	r := Recording{
		FileID: b.src.FileID, Kind: FromActivity,
		Swimmer: owner.Swimmer, Refused: owner.Refused,
		Zone: b.zone, PoolM: b.pool(s),
		Basis: b.src.Input.StrokeCount, HRSource: b.hrSource(s, g),
		Content: b.src.Content, Created: fitUnix(g.created),
	}
	if r.Basis == "" {
		r.Basis = study.UnknownBasis
	}
	if serial := g.serial(); serial != 0 && b.src.DeviceHash != nil {
		r.Device = b.src.DeviceHash(strconv.FormatUint(uint64(serial), 10))
	}
	if s.clock {
		r.Start = time.Unix(int64(s.origin)+fitEpoch, 0).UTC()
		r.LocalDate = r.Start.In(b.zone).Format(time.DateOnly)
		b.checkZone(g)
	} else {
		b.note(s.group, "clock-not-set", "the recorder's clock was not set: times within the session are known, its day is not")
	}
	r.Laps = b.laps(s)
	owners := b.lapOwners(s, r.Laps)
	r.Lengths = make([]Length, 0, len(s.lengths))
	for i, at := range s.lengths {
		l := &b.c.lengths[at]
		if l.rest {
			r.Rests = append(r.Rests, Rest{Record: l.record, StartS: l.start - s.origin, DurationS: l.durationS})
			continue
		}
		lap := owners[i]
		if lap >= 0 {
			r.Laps[lap].PoolLengths++
		}
		r.Lengths = append(r.Lengths, activityLengthRow(l, lap, s))
	}
	r.Samples = b.samples(s)
	b.checkAgainstSummaries(s, &r)
	return r
}

// pool is the pool length in metres; the recorder's unit is for display only.
func (b *activityBuilder) pool(s *activitySwim) float64 {
	switch {
	case !math.IsNaN(s.poolM):
		return s.poolM
	case b.src.Input.PoolM > 0:
		b.note(s.group, "no-pool", fmt.Sprintf("the recording states no pool length: %g m is the study file's", b.src.Input.PoolM))
		return b.src.Input.PoolM
	}
	b.note(s.group, "no-pool", "the recording states no pool length: give the input a pool in the study file")
	return math.NaN()
}

// hrSource says how most of a session's heart rate was measured, where anything
// tells. A recorder with a sensor of its own beside a strap that kept a log may
// have written either into its own samples.
func (b *activityBuilder) hrSource(s *activitySwim, g *activityGroup) string {
	either := s.strapBeats > 0 && g.strap && g.wrist
	switch {
	case s.strapBeats > 0 && s.strapRates >= s.recordRates, g.strap && !either:
		return "strap"
	case b.src.Input.HRSource != "":
		return b.src.Input.HRSource
	case g.wrist && !either:
		return "optical"
	}
	return "unknown"
}

// checkZone notes where the recorder's own offset from UTC is impossible or
// is not that of the study's zone. The zone decides the local date either way.
func (b *activityBuilder) checkZone(g *activityGroup) {
	if !g.hasLocal {
		return
	}
	offset := int64(g.local) - int64(g.utc)
	group := g.number
	if !possibleOffset(offset) {
		b.note(group, "unknown-zone", fmt.Sprintf("the recorder's local time is %+.2f h from UTC, which is no time zone: the zone of the study file is used",
			float64(offset)/3600))
		return
	}
	if _, here := time.Unix(fitUnix(g.utc), 0).In(b.zone).Zone(); int64(here) != offset {
		b.note(group, "zone-differs", fmt.Sprintf("the recorder's clock stood at UTC%+.2f h, the zone of the study file at UTC%+.2f h: the local date is that of the study file's zone",
			float64(offset)/3600, float64(here)/3600))
	}
}

// note adds an entry on the file as a whole.
func (b *activityBuilder) note(group int, rule, detail string) {
	b.noted = append(b.noted, Entry{Records: 1, Kind: KindFile, Swimmer: b.owners[group].Swimmer, Rule: rule, Action: Noted, Detail: detail})
}
