package normalise

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"lengthwise/pipeline/read"
)

// applyNotes sets the tags that the swimmer's notes state for swims of a day.
//
// Swims are numbered from 1 within each session; a note holds for every
// session of its day, which is noted when it numbers swims and the day has
// several sessions. The note for fewer swims goes first, so that one for all
// fills what is left; a cell of a sheet is never overwritten. Values that
// cannot be read, notes that fit no swim and notes that change nothing because
// other values stand are noted. Keys that no measure uses become free tags.
//
// Entries carry no file id: a note does not know its file, the caller does.
func applyNotes(drafts []*draft, notes []read.Note) []read.Entry {
	order := slices.Clone(notes)
	slices.SortStableFunc(order, func(a, b read.Note) int {
		return cmp.Or(cmp.Compare(breadth(a), breadth(b)), cmp.Compare(a.Record, b.Record))
	})
	var entries []read.Entry
	for _, n := range order {
		entry := read.Entry{Record: n.Record, Records: 1, Kind: read.KindNote, Swimmer: n.Swimmer, Action: read.Noted}
		note := func(rule, detail string) {
			entry.Rule, entry.Detail = rule, detail
			entries = append(entries, entry)
		}
		from, to, ok := repRange(n)
		if !ok {
			note(RuleUnreadable, fmt.Sprintf("swims %d to %d are no range", n.RepFrom, n.RepTo))
			continue
		}
		set, free, err := readTag(n.Key, n.Value)
		if err != nil {
			note(RuleUnreadable, err.Error())
			continue
		}
		sessions, swims, changed, refused := 0, 0, 0, 0
		for _, d := range drafts {
			if d.LocalDate != n.LocalDate {
				continue
			}
			sessions++
			if free {
				if last := lastSwim(d); n.RepFrom == 0 || from <= last {
					d.Free = append(d.Free, FreeTag{keyOf(n.Key), strings.TrimSpace(n.Value), n.RepFrom, n.RepTo})
					swims++
				}
				continue
			}
			for i := range d.Lengths {
				l := &d.Lengths[i]
				if l.Swim < from || l.Swim > to {
					continue
				}
				swims++
				switch set(&l.Tags) {
				case tagSet:
					changed++
				case tagOverruled:
					refused++
				}
			}
		}
		switch {
		case sessions == 0:
			note(RuleNoteUnmatched, "no session of the swimmer on that day")
		case swims == 0:
			note(RuleNoteUnmatched, "the day's sessions have no such swim")
		case changed == 0 && refused > 0:
			note(RuleNoteOverruled, "a cell of the sheet or a note for fewer swims says otherwise")
		case sessions > 1 && n.RepFrom > 0:
			note(RuleNoteAmbiguous, fmt.Sprintf("the day has %d sessions: the note holds for these swims of each", sessions))
		}
	}
	for _, d := range drafts {
		slices.SortStableFunc(d.Free, func(a, b FreeTag) int {
			return cmp.Or(cmp.Compare(a.Key, b.Key), cmp.Compare(a.RepFrom, b.RepFrom),
				cmp.Compare(a.RepTo, b.RepTo), cmp.Compare(a.Value, b.Value))
		})
	}
	return entries
}

// breadth orders notes by how many swims they name; all swims come last.
func breadth(n read.Note) int {
	from, to, _ := repRange(n)
	return to - from
}

// repRange is the range of swims of a note: all when both ends are 0, one when
// only the first is given.
func repRange(n read.Note) (from, to int, ok bool) {
	switch {
	case n.RepFrom == 0 && n.RepTo == 0:
		return 1, math.MaxInt32, true
	case n.RepTo == 0:
		return n.RepFrom, n.RepFrom, n.RepFrom > 0
	}
	return n.RepFrom, n.RepTo, n.RepFrom > 0 && n.RepFrom <= n.RepTo
}

func lastSwim(d *draft) int {
	if len(d.Lengths) == 0 {
		return 0
	}
	return d.Lengths[len(d.Lengths)-1].Swim
}

// outcome is what a note did to a tag.
type outcome int

const (
	tagSet       outcome = iota // it was blank
	tagSame                     // it said so already
	tagOverruled                // it says otherwise
)

func keyOf(key string) string { return strings.ToLower(strings.TrimSpace(key)) }

// readTag reads a note's value. set writes it to tags whose own is blank; it
// is nil for a free tag.
func readTag(key, value string) (set func(*read.Tags) outcome, free bool, err error) {
	value = strings.TrimSpace(value)
	words := func(field func(*read.Tags) *string, allowed ...string) (func(*read.Tags) outcome, bool, error) {
		word := strings.ToLower(value)
		if len(allowed) > 0 {
			word = read.TagWord(value)
		}
		if word == "" || len(allowed) > 0 && !slices.Contains(allowed, word) {
			return nil, false, fmt.Errorf("%s: the value is none of %s", keyOf(key), orAny(allowed))
		}
		return func(t *read.Tags) outcome {
			f := field(t)
			switch *f {
			case "":
				*f = word
				return tagSet
			case word:
				return tagSame
			}
			return tagOverruled
		}, false, nil
	}
	number := func(field func(*read.Tags) *float64, low, high float64) (func(*read.Tags) outcome, bool, error) {
		x, err := strconv.ParseFloat(strings.Replace(read.WithoutUnit(value), ",", ".", 1), 64)
		if err != nil || !(x >= low && x <= high) {
			return nil, false, fmt.Errorf("%s: the value is no number from %g to %g", keyOf(key), low, high)
		}
		return func(t *read.Tags) outcome {
			f := field(t)
			switch {
			case math.IsNaN(*f):
				*f = x
				return tagSet
			case *f == x:
				return tagSame
			}
			return tagOverruled
		}, false, nil
	}
	switch keyOf(key) {
	case "instruction":
		return words(func(t *read.Tags) *string { return &t.Instruction }, "usual", "fewest-strokes", "quicker-rate")
	case "kick":
		return words(func(t *read.Tags) *string { return &t.Kick }, "none", "light", "full")
	case "equipment":
		return words(func(t *read.Tags) *string { return &t.Equipment })
	case "effort":
		return words(func(t *read.Tags) *string { return &t.Effort }, "easy", "steady", "hard", "maximal")
	// The limits are wide: beyond them a value is a slip (from memory; common
	// practice, no source). Borg's CR10 scale runs from 0 past 10.
	case "rate_target":
		return number(func(t *read.Tags) *float64 { return &t.RateTargetSPM }, 5, 200)
	case "breathing":
		return number(func(t *read.Tags) *float64 { return &t.Breathing }, 0.5, 30)
	case "rpe":
		return number(func(t *read.Tags) *float64 { return &t.RPE }, 0, 12)
	case "lactate":
		return number(func(t *read.Tags) *float64 { return &t.LactateMMOL }, 0, 40)
	case "lactate_before":
		return number(func(t *read.Tags) *float64 { return &t.LactateBefore }, 0, 40)
	case "vo2":
		return number(func(t *read.Tags) *float64 { return &t.VO2 }, 0, 120)
	case "":
		return nil, false, fmt.Errorf("the key is empty")
	}
	return nil, true, nil
}

func orAny(allowed []string) string {
	if len(allowed) == 0 {
		return "the words it could be: it is empty"
	}
	return strings.Join(allowed, ", ")
}
