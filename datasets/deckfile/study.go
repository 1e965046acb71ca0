package deckfile

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"lengthwise/datasets/squad"
)

// Pulse is one session's part of a heart-rate log.
type Pulse struct {
	Name         string // how the log names the swimmer
	Session      *squad.Session
	EverySeconds int // 0: 1
}

// WriteHeartRateLog writes samples as swimmer,timestamp,hr with local timestamps
// and their offset from UTC.
func WriteHeartRateLog(w io.Writer, pulses []Pulse) error {
	records := [][]string{{"swimmer", "timestamp", "hr"}}
	for _, p := range pulses {
		every := max(1, p.EverySeconds)
		for i := 0; i < len(p.Session.HeartRate); i += every {
			sample := p.Session.HeartRate[i]
			at := p.Session.Local.Add(time.Duration(sample.Seconds * float64(time.Second)))
			records = append(records, []string{p.Name, at.Format("2006-01-02T15:04:05-07:00"), strconv.Itoa(int(math.Round(sample.BPM)))})
		}
	}
	return writeAll(w, records)
}

// RosterEntry is a line of the roster. Zero numbers are left empty.
type RosterEntry struct {
	Swimmer        string
	Aliases        []string
	Squad          string
	Sex            string
	BirthYear      int
	RestBPM        float64
	MaxBPM         float64
	MaxMeasuredIn  string // water or land
	MassKG         float64
	HeightCM       float64
	ArmSpanCM      float64
	VO2Rest        float64 // mL/kg/min
	Device         uint32  // 0: not known
	RateMedication string  // rate_altering_medication: yes, no or empty
	Consent        string  // yes or no
}

// RosterEntryOf fills an entry from a simulated swimmer; names, device and
// consent are for the caller to add.
func RosterEntryOf(sw *squad.Swimmer) RosterEntry {
	return RosterEntry{Swimmer: sw.Handle, Sex: sw.Sex, BirthYear: sw.BirthYear, RestBPM: sw.RestBPM,
		MaxBPM: sw.MaxBPM, MaxMeasuredIn: "water", MassKG: sw.MassKG, HeightCM: sw.HeightCM, ArmSpanCM: sw.ArmSpanCM}
}

// WriteRoster writes the roster.
func WriteRoster(w io.Writer, entries []RosterEntry) error {
	records := [][]string{strings.Split("swimmer,aliases,squad,sex,birth_year,hr_rest,hr_max,hr_max_measured_in,mass_kg,"+
		"height_cm,arm_span_cm,vo2_rest,device,rate_altering_medication,consent", ",")}
	optional := func(v float64) string {
		if v == 0 {
			return ""
		}
		return number(v, 1)
	}
	for _, e := range entries {
		measured := e.MaxMeasuredIn
		if e.MaxBPM == 0 {
			measured = ""
		}
		records = append(records, []string{e.Swimmer, strings.Join(e.Aliases, ";"), e.Squad, e.Sex, optional(float64(e.BirthYear)),
			optional(e.RestBPM), optional(e.MaxBPM), measured, optional(e.MassKG), optional(e.HeightCM), optional(e.ArmSpanCM),
			optional(e.VO2Rest), optional(float64(e.Device)), e.RateMedication, e.Consent})
	}
	return writeAll(w, records)
}

// Assignment gives a file to a swimmer.
type Assignment struct{ File, Swimmer string }

// WriteAssign writes the assign file.
func WriteAssign(w io.Writer, list []Assignment) error {
	records := [][]string{{"file", "swimmer"}}
	for _, a := range list {
		records = append(records, []string{a.File, a.Swimmer})
	}
	return writeAll(w, records)
}

// Note is a tag on a run of repeats of one day. Repeats count all bouts of the
// session from 1, warm-up and drill included.
type Note struct {
	Swimmer, Date  string
	RepFrom, RepTo int
	Key, Value     string
}

// WriteNotes writes the notes file.
func WriteNotes(w io.Writer, notes []Note) error {
	records := [][]string{{"swimmer", "date", "rep_from", "rep_to", "key", "value"}}
	for _, n := range notes {
		records = append(records, []string{n.Swimmer, n.Date, strconv.Itoa(n.RepFrom), strconv.Itoa(n.RepTo), n.Key, n.Value})
	}
	return writeAll(w, records)
}

// NotesFromSession notes what was set beforehand in a session recorded by watch:
// instruction, rate_target and kick, runs of equal values joined.
func NotesFromSession(s *squad.Session, name string) []Note {
	var notes []Note
	for _, tag := range []struct {
		key   string
		value func(b *squad.Bout) string
	}{
		{"instruction", func(b *squad.Bout) string { return string(b.Instruction) }},
		{"rate_target", func(b *squad.Bout) string {
			if b.RateTargetSPM == 0 {
				return ""
			}
			return number(b.RateTargetSPM, 0)
		}},
		{"kick", func(b *squad.Bout) string { return string(b.Kick) }},
	} {
		for k := range s.Bouts {
			v := tag.value(&s.Bouts[k])
			if v == "" {
				continue
			}
			if n := len(notes); n > 0 && notes[n-1].Key == tag.key && notes[n-1].Value == v && notes[n-1].RepTo == k {
				notes[n-1].RepTo = k + 1
				continue
			}
			notes = append(notes, Note{name, s.Local.Format("2006-01-02"), k + 1, k + 1, tag.key, v})
		}
	}
	return notes
}

func writeAll(w io.Writer, records [][]string) error {
	if err := csv.NewWriter(w).WriteAll(records); err != nil {
		return fmt.Errorf("deckfile: write: %w", err)
	}
	return nil
}
