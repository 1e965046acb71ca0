package normalise

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// whyRefused says in words why a recording is refused. Nothing but the
// swimmer's pseudonym may go further without consent, so the words are fixed.
var whyRefused = map[string]string{
	RuleNoSwimmer: "nobody owns the recording",
	RuleNoConsent: "the roster holds no consent",
	RuleForgotten: "its owner was removed from the study",
	RuleTwoOwners: "the same recording is held under another swimmer: whose it is cannot be told",
}

// Sessions turns all recordings of one swimmer into sessions, in order of day
// and clock. Recordings that are refused (nobody owns them, no consent, two
// owners) may be among them, or be all there are; each of their records is
// excluded. notes may be of several swimmers: those of others are left alone.
//
// In order: refused recordings and duplicates are excluded; of a watch file
// and a sheet of the same swims one is used; clocks are rebuilt and swims
// found; repeats are shared out over their lengths; counts are put on one
// basis; samples are given to the session that ran at their time; notes become
// tags. Every record is either in a session or excluded by an entry; entries
// come in the order of the ledger. The order of recordings does not matter,
// and nothing of the input is changed.
//
// It is an error when recordings of several swimmers are not refused.
func Sessions(recordings []read.Recording, notes []read.Note, s *study.Study) ([]Session, []read.Entry, error) {
	var own []*read.Recording
	var entries []read.Entry
	refused := make(map[string]string) // swimmer -> rule
	for i := range recordings {
		r := &recordings[i]
		if r.Refused != "" {
			entries = append(entries, whole(r, r.Refused, whyRefused[r.Refused])...)
			if rule := refused[r.Swimmer]; rule == "" || r.Refused < rule {
				refused[r.Swimmer] = r.Refused
			}
			continue
		}
		if len(own) > 0 && own[0].Swimmer != r.Swimmer {
			return nil, nil, fmt.Errorf("normalise: recordings of two swimmers (%q in file %s, %q in file %s) in one call",
				own[0].Swimmer, own[0].FileID, r.Swimmer, r.FileID)
		}
		own = append(own, r)
	}
	slices.SortFunc(own, byStart)
	if s == nil || !s.Screen.Off[RuleDuplicate] {
		var dropped []read.Entry
		own, dropped = dropDuplicates(own)
		entries = append(entries, dropped...)
	}
	drafts, logs, unused := draftAll(own, s)
	entries = append(entries, unused...)
	if s == nil || !s.Screen.Off[RuleSecondRecording] {
		var dropped []read.Entry
		drafts, dropped = settleSecondRecordings(drafts)
		entries = append(entries, dropped...)
	}
	number(drafts)
	entries = append(entries, addHeartRate(drafts, logs)...)
	var mine []read.Note
	for _, n := range notes {
		switch rule := refused[n.Swimmer]; {
		case len(own) > 0 && n.Swimmer == own[0].Swimmer:
			mine = append(mine, n)
		case rule != "" && n.Swimmer != "":
			entries = append(entries, read.Entry{Record: n.Record, Records: 1, Kind: read.KindNote,
				Swimmer: n.Swimmer, Rule: rule, Action: read.Excluded, Detail: whyRefused[rule]})
		}
	}
	entries = append(entries, applyNotes(drafts, mine)...)
	nameEquipment(drafts)
	sessions := make([]Session, len(drafts))
	for i, d := range drafts {
		sessions[i] = d.Session
		for _, e := range d.entries {
			e.Session = d.ID
			entries = append(entries, e)
		}
	}
	SortEntries(entries)
	return sessions, entries, nil
}

// NotesOfNobody notes the notes of swimmers who have no recordings at all, so
// that Sessions is never called for them.
func NotesOfNobody(notes []read.Note, swimmers map[string]bool) []read.Entry {
	var entries []read.Entry
	for _, n := range notes {
		if !swimmers[n.Swimmer] {
			entries = append(entries, read.Entry{Record: n.Record, Records: 1, Kind: read.KindNote, Swimmer: n.Swimmer,
				Rule: RuleNoteUnmatched, Action: read.Noted, Detail: "the swimmer has no recordings"})
		}
	}
	return entries
}

// draftAll builds a draft of every recording that holds lengths and a pool, in
// order of start, and sets heart-rate logs apart.
func draftAll(own []*read.Recording, s *study.Study) (drafts []*draft, logs []*read.Recording, entries []read.Entry) {
	zone := studyZone(s)
	walls := wallTimes(own)
	for i, r := range own {
		switch {
		case r.Kind == read.FromHeartRateLog && len(r.Lengths) == 0:
			logs = append(logs, r)
			entries = append(entries, whole(&read.Recording{FileID: r.FileID, Swimmer: r.Swimmer, Rests: r.Rests},
				RuleNoLengths, "a heart-rate log holds no rests")...)
		case len(r.Lengths) == 0:
			entries = append(entries, whole(r, RuleNoLengths, "the recording holds no pool lengths")...)
		case math.IsNaN(sessionPool(r)):
			entries = append(entries, whole(r, RuleNoPool, "neither the recording nor the study file states the pool")...)
		default:
			drafts = append(drafts, build(r, zone, walls[i]))
		}
	}
	return drafts, logs, entries
}

// number gives sessions their ids: swimmer, local day, and order within the
// day by clock; those without a clock come last. Drafts end in order of id.
func number(drafts []*draft) {
	slices.SortStableFunc(drafts, func(a, b *draft) int {
		return cmp.Or(cmp.Compare(a.LocalDate, b.LocalDate), byStart(a.recording, b.recording))
	})
	n := 0
	for i, d := range drafts {
		if i == 0 || d.LocalDate != drafts[i-1].LocalDate {
			n = 0
		}
		n++
		day := strings.ReplaceAll(d.LocalDate, "-", "")
		if day == "" {
			day = "undated"
		}
		d.ID = fmt.Sprintf("%s-%s-%d", d.Swimmer, day, n)
	}
}
