package screen

import (
	"fmt"
	"math"
	"strings"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

var nan = math.NaN()

// swum is seconds and strokes of one length, as a recorder counts cycles.
type swum struct{ seconds, strokes float64 }

// session builds a session of freestyle swims in a 25 m pool, 30 s of rest
// between them.
func session(swims ...[]swum) normalise.Session {
	s := normalise.Session{Swimmer: "ada", ID: "ada-20260302-1", FileID: "f", Kind: read.FromActivity, PoolM: 25, WallTimeS: nan}
	at := 0.0
	for n, swim := range swims {
		rest := nan
		if n > 0 {
			rest = 30
			s.Rests = append(s.Rests, normalise.Rest{FileID: "f", Record: int64(n), StartS: at, DurationS: 30, Before: len(s.Lengths)})
			at += 30
		}
		for _, x := range swim {
			s.Lengths = append(s.Lengths, normalise.Length{
				FileID: "f", Record: int64(len(s.Lengths) + 1), Kind: read.KindLength, Share: 1, Covers: 1,
				Lap: -1, Swim: n + 1, StartS: at, DurationS: x.seconds, DurationRecordedS: x.seconds, PoolM: 25,
				Stroke: "freestyle", SwimStroke: "freestyle", Strokes: 2 * x.strokes, StrokesRecorded: x.strokes, Basis: study.Cycles,
				RestBeforeS: rest, WallTimeS: nan, End: noReading(), Tags: noTags(),
			})
			if !math.IsNaN(x.seconds) {
				at += x.seconds
			}
		}
	}
	return s
}

func noReading() read.Reading { return read.Reading{HRBPM: nan, DelayS: nan} }

func noTags() read.Tags {
	return read.Tags{RateTargetSPM: nan, Breathing: nan, RPE: nan, LactateMMOL: nan, LactateBefore: nan, VO2: nan}
}

func even(n int, seconds, strokes float64) []swum {
	out := make([]swum, n)
	for i := range out {
		// Half a per cent to and fro, as real lengths are not equal.
		out[i] = swum{seconds * (1 + 0.005*float64(i%3-1)), strokes}
	}
	return out
}

func join(parts ...[]swum) []swum {
	var all []swum
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

func settings() study.Screen { return study.Default().Screen }

// counts is what a session's files held, taken from the session itself.
func counts(s normalise.Session) map[string]read.Counts {
	all := map[string]read.Counts{}
	add := func(file string, f func(*read.Counts)) {
		c := all[file]
		f(&c)
		all[file] = c
	}
	for _, l := range s.Lengths {
		switch {
		case l.Kind == read.KindRepeat && l.Share == 1:
			add(l.FileID, func(c *read.Counts) { c.Repeats++ })
		case l.Kind == read.KindLength:
			add(l.FileID, func(c *read.Counts) { c.Lengths++ })
		}
	}
	for _, r := range s.Rests {
		add(r.FileID, func(c *read.Counts) { c.Rests++ })
	}
	for _, x := range s.Samples {
		add(x.FileID, func(c *read.Counts) { c.HeartRate++ })
	}
	return all
}

// kept shows kept lengths as "seconds/cycles rule", a gap before as "|".
func kept(s Session) string {
	var b strings.Builder
	for _, l := range s.Kept {
		if l.AfterGap {
			b.WriteString("| ")
		}
		fmt.Fprintf(&b, "%.1f/%.3g", l.DurationS, l.Strokes/2)
		if l.Rule != "" {
			b.WriteString(" " + l.Rule)
		}
		b.WriteString(", ")
	}
	return strings.TrimSuffix(b.String(), ", ")
}

func brief(entries []read.Entry) string {
	var out []string
	for _, e := range entries {
		out = append(out, fmt.Sprintf("%s %d+%d %s %s", e.Kind, e.Record, e.Records, e.Rule, e.Action))
	}
	return strings.Join(out, "; ")
}
