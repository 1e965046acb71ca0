package activityfile

import (
	"math"

	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

const (
	ticksPerSecond = 1024 // of the strap's clock
	wrapTicks      = 4096 // the 12-bit time begins again
)

// beatBlocks cuts a strap's log into n runs of about equal length.
func beatBlocks(beats []Beat, n int) [][]Beat {
	if len(beats) == 0 {
		return nil
	}
	n = min(max(1, n), len(beats))
	blocks := make([][]Beat, 0, n)
	for k := range n {
		blocks = append(blocks, beats[k*len(beats)/n:(k+1)*len(beats)/n])
	}
	return blocks
}

// beatMessages writes one run of beats: an anchor (timestamp, fraction and
// event_timestamp with the first beat), then packets of 12-bit times. A gap too
// long for 12 bits gets an event_timestamp of its own without a timestamp, which
// leaves the anchor as it was. The last packet is padded with its last beat.
func beatMessages(a *Activity, beats []Beat, q *Quirks) []proto.Message {
	b := &builder{a: a, q: q}
	perPacket := q.BeatsPerPacket
	if perPacket == 0 {
		perPacket = 8
	}
	clock := q.BeatClockSeconds
	if clock == 0 {
		clock = 1e5
	}
	tick := func(seconds float64) int64 {
		return int64(math.Round((clock + seconds) * ticksPerSecond))
	}
	bpm := func(i int) uint8 {
		if i == 0 && q.BeatStartValue > 0 && beats[0] == a.Beats[0] {
			return q.BeatStartValue
		}
		return beats[i].BPM
	}
	var out []proto.Message
	absolute := func(i int, anchor bool) {
		d := b.slab.draft(mesgnum.Hr, 4)
		if anchor {
			whole := math.Floor(beats[i].Seconds)
			d.u32(fieldnum.HrTimestamp, b.stamp(whole)).
				u16(fieldnum.HrFractionalTimestamp, uint16(math.Floor((beats[i].Seconds-whole)*32768)))
		}
		d.bytes(fieldnum.HrFilteredBpm, []uint8{bpm(i)}).
			set(fieldnum.HrEventTimestamp, proto.SliceUint32([]uint32{uint32(tick(beats[i].Seconds))}))
		out = append(out, d.Message)
	}

	absolute(0, true)
	last := tick(beats[0].Seconds)
	second := len(beats) / 2
	for i := 1; i < len(beats); {
		if i == second && q.BeatSecondAnchor || tick(beats[i].Seconds)-last >= wrapTicks {
			absolute(i, false)
			last = tick(beats[i].Seconds)
			i++
			continue
		}
		times, rates := make([]uint16, 0, 8), make([]uint8, 0, 8)
		for i < len(beats) && len(times) < perPacket && tick(beats[i].Seconds)-last < wrapTicks {
			if i == second && q.BeatSecondAnchor && len(times) > 0 {
				break
			}
			last = tick(beats[i].Seconds)
			times, rates = append(times, uint16(last%wrapTicks)), append(rates, bpm(i))
			i++
		}
		for len(times) < perPacket { // padding: equal times
			times, rates = append(times, times[len(times)-1]), append(rates, rates[len(rates)-1])
		}
		out = append(out, b.slab.draft(mesgnum.Hr, 2).
			bytes(fieldnum.HrFilteredBpm, rates).
			bytes(fieldnum.HrEventTimestamp12, pack12(times)).Message)
	}
	return out
}

// pack12 packs an even number of 12-bit values, low bits first.
func pack12(values []uint16) []uint8 {
	out := make([]uint8, 0, len(values)*3/2)
	for i := 0; i < len(values); i += 2 {
		u, v := values[i], values[i+1]
		out = append(out, uint8(u), uint8(u>>8)&0x0f|uint8(v<<4), uint8(v>>4))
	}
	return out
}
