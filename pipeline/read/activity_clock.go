package read

import "time"

// Clock is what one recording says of the time zone that it was made in.
type Clock struct {
	UTC    time.Time
	Offset time.Duration // of the recorder's local time from UTC, possible as a zone's
}

// Offsets in use lie within -12 h to +14 h, on quarters of an hour (IANA time
// zone database); a recorder's clock that is set wrongly lies anywhere.
const (
	longestOffset = 14 * 3600 // seconds
	offsetGrid    = 15 * 60   // seconds
)

func possibleOffset(seconds int64) bool {
	return seconds <= longestOffset && seconds >= -longestOffset && seconds%offsetGrid == 0
}

// ActivityClocks gives the clocks of an activity file's recordings that state
// both UTC and a possible local time. A file that is none has none.
func ActivityClocks(data []byte) []Clock {
	sequences, _, err := fitSplit(data)
	if err != nil {
		return nil
	}
	c := newActivityCollector(activityDefaultLimits(), len(data))
	decoder := newFitDecoder()
	for _, seq := range sequences {
		decoder.decode(data, seq, c)
	}
	var clocks []Clock
	for i := range c.groups {
		g := &c.groups[i]
		if offset := int64(g.local) - int64(g.utc); g.hasLocal && possibleOffset(offset) {
			clocks = append(clocks, Clock{UTC: time.Unix(fitUnix(g.utc), 0).UTC(), Offset: time.Duration(offset) * time.Second})
		}
	}
	return clocks
}
