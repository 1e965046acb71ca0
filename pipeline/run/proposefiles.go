package run

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// StudyFile is the proposed study file, with comments that say what to
// complete.
func (p *Proposal) StudyFile(name, timeZone string) []byte {
	var b bytes.Buffer
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	say("# The study file: what to read and what to ask. Lines that start with # are")
	say("# comments. \"lengthwise check\" says what is missing.")
	say("study: %s", strconv.Quote(name))
	say("seed: 1                # any number; the same seed gives the same result")
	say("timezone: %-12s # where the squad swims, such as Europe/Lisbon", timeZone)
	if len(p.Zones) > 0 {
		say("# %s.", wrapComment(p.ZoneSeen+": "+strings.Join(p.Zones, ", ")))
	}
	say("")
	say("# Files, by path. * stands for any part of a name, {swimmer} for the swimmer.")
	say("# stroke_count says what the recorder counts as one stroke: arms (each arm) or")
	say("# cycles (both arms together; what a watch on one wrist does). No file says it:")
	say("# count one length by hand to be sure.")
	say("inputs:")
	for _, in := range p.Patterns {
		b := p.Blanks[in.Pattern]
		if len(b.Missing) > 0 {
			say("  # These sheets have columns of unknown meaning: %s.", strings.Join(b.Headers, ", "))
			say("  # Write between the quotes which of them is which, if any is.")
		}
		say("  - %s", InputLine(in, b))
	}
	say("")
	say("roster: %s", orName(p.Roster, "roster.csv"))
	switch {
	case p.Assign != "" || len(p.Unowned) > 0:
		say("assign: %-14s # whose file it is, where the path does not say", orName(p.Assign, "assign.csv"))
	default:
		say("# assign: assign.csv   # file,swimmer: whose file it is, where the path does not say")
	}
	if p.Notes != "" {
		say("notes: %s", p.Notes)
	} else {
		say("# notes: notes.csv     # swimmer,date,rep_from,rep_to,key,value: instruction, rate_target, kick ...")
	}
	say("")
	say("privacy: {identify: pseudonym, key_file: study.key, smallest_group: 10}")
	say("cost: {measure: bpm, steady_after: 150s, window: 30s}   # or hr-reserve, net-beats, lab, rpe")
	say("analysis: {strokes: [freestyle], reference_pace: auto, smallest_effect: 2, min_sessions: 6, min_bouts: 24}")
	say("output: out")
	return b.Bytes()
}

// InputLine is one input as the study file spells it, with a blank to fill in for
// each column that nobody has named.
func InputLine(in study.Input, b Blank) string {
	parts := []string{"path: " + strconv.Quote(in.Pattern), "kind: " + string(in.Kind)}
	if in.Kind != study.HeartRate {
		parts = append(parts, "stroke_count: "+string(in.StrokeCount))
	}
	if in.PoolM > 0 {
		parts = append(parts, "pool: "+study.PoolText(in.PoolM))
	}
	if in.HRSource != "" {
		parts = append(parts, "hr_source: "+in.HRSource)
	}
	if in.Dates != study.AnyOrder {
		parts = append(parts, "dates: "+string(in.Dates))
	}
	var columns []string
	for _, missing := range b.Missing {
		columns = append(columns, missing+": "+strconv.Quote(in.Columns[missing]))
	}
	if len(columns) > 0 {
		parts = append(parts, "columns: {"+strings.Join(columns, ", ")+"}")
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// wrapComment breaks a comment of the study file at spaces.
func wrapComment(text string) string {
	line, out := "", ""
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > 76 {
			out += line + "\n# "
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return out + line
}

// RosterFile is a roster of the names found, to be completed.
func (p *Proposal) RosterFile() []byte {
	header := []string{"swimmer", "aliases", "squad", "sex", "birth_year", "hr_rest", "hr_max", "hr_max_measured_in", "mass_kg",
		"height_cm", "arm_span_cm", "vo2_rest", "device", "rate_altering_medication", "consent"}
	rows := make([][]string, 0, len(p.Swimmers))
	for _, name := range p.Swimmers {
		row := make([]string, len(header))
		row[0] = name
		rows = append(rows, row)
	}
	return csvFile(header, rows)
}

// AssignFile lists the activity files whose path names nobody.
func (p *Proposal) AssignFile() []byte {
	rows := make([][]string, 0, len(p.Unowned))
	for _, rel := range p.Unowned {
		rows = append(rows, []string{rel, ""})
	}
	return csvFile([]string{"file", "swimmer"}, rows)
}

func csvFile(header []string, rows [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write(header) // into memory: cannot fail
	w.WriteAll(rows)
	return b.Bytes()
}

func orName(name, otherwise string) string {
	if name == "" {
		return otherwise
	}
	return strconv.Quote(name)
}

// look sorts one file by what its content is.
func (p *Proposal) look(full, rel string, names map[string]string) error {
	switch {
	case strings.EqualFold(path.Ext(strings.TrimSuffix(strings.ToLower(rel), ".gz")), ".fit"):
		p.Activities = append(p.Activities, rel)
		return nil
	case strings.EqualFold(path.Ext(rel), ".zip"):
		p.Archives = append(p.Archives, rel)
		return nil
	}
	if !slices.Contains([]string{".csv", ".tsv", ".txt"}, strings.ToLower(path.Ext(rel))) {
		p.Foreign = append(p.Foreign, rel)
		return nil
	}
	data, err := readFile(full)
	if errors.Is(err, errTooLong) {
		data, err = nil, nil // a sheet can be read all the same
	}
	if err != nil {
		return err
	}
	source := read.SheetSource{FileID: rel, Owner: func(name string) identity.Owner {
		return identity.Owner{Swimmer: identity.Fold(name)}
	}}
	sheet, recordings, seen, err := proposedSheet(full, data, source)
	if err == nil && recordings > 0 {
		p.Sheets = append(p.Sheets, rel)
		for _, s := range seen {
			remember(names, s.Name)
		}
		return nil
	}
	if seen, ok := read.SheetNames(data); ok && err == nil {
		p.Sheets = append(p.Sheets, rel)
		p.blank(rel, data)
		p.Refused = append(p.Refused, FileLedger{Files: []string{rel}, Rules: ruleLedgers(sheet.Entries)})
		for _, name := range seen {
			remember(names, name)
		}
		return nil
	}
	log, seen, err := read.HeartRateLog(data, source)
	if err == nil && len(log.Recordings) > 0 {
		p.Logs = append(p.Logs, rel)
		for _, s := range seen {
			remember(names, s.Name)
		}
		return nil
	}
	p.list(data, rel)
	return nil
}

// list recognises the study's own lists at the top of the folder.
func (p *Proposal) list(data []byte, rel string) {
	owner := func(string) identity.Owner { return identity.Owner{} }
	if _, _, err := read.Assignments(data); err == nil && p.Assign == "" {
		p.Assign = rel
		return
	}
	if _, _, err := read.Notes(data, owner); err == nil && p.Notes == "" {
		p.Notes = rel
		return
	}
	if members, _, err := read.Roster(data); err == nil && len(members) > 0 && p.Roster == "" {
		p.Roster = rel
		return
	}
	p.Foreign = append(p.Foreign, rel)
}

func remember(names map[string]string, name string) {
	folded := identity.Fold(name)
	if have, ok := names[folded]; folded != "" && (!ok || identity.Tidy(name) < have) {
		names[folded] = identity.Tidy(name)
	}
}

// proposedSheet reads a file as a sheet, in parts if it is long; data are its bytes, nil
// where they are too many to be held. A name stands for its own pseudonym.
func proposedSheet(full string, data []byte, source read.SheetSource) (f read.File, recordings int, seen []identity.Seen, err error) {
	if data != nil && len(data) <= longSheetFrom {
		f, seen, err = read.Sheet(data, source)
		return f, len(f.Recordings), seen, err
	}
	room, err := hiddenFile()
	if err != nil {
		return f, 0, nil, err
	}
	defer func() { err = errors.Join(err, letGo(room)) }()
	open := func() (io.ReadCloser, error) { return os.Open(full) }
	l, err := read.LongSheetOf(context.Background(), open, source, read.LongSheetOptions{Room: room, Workers: runtime.GOMAXPROCS(0)})
	if err != nil {
		return f, 0, nil, err
	}
	return l.File, l.Recordings(), l.Seen, nil
}
