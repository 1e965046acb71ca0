package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"

	"lengthwise/schemas"
)

// story is what the tables say of one session.
type story struct {
	session schemas.Session
	lengths []schemas.Length
	lineage []schemas.Lineage
	bouts   []schemas.Bout // of the swimmer, all sessions
	ledger  []schemas.LedgerEntry
}

func (e *explainer) story(session schemas.Session) (*story, error) {
	st := &story{session: session}
	id := session.Session
	lengths, err1 := rowsOf[schemas.Length](e.s, "lengths")
	lineage, err2 := rowsOf[schemas.Lineage](e.s, "lineage")
	bouts, err3 := rowsOf[schemas.Bout](e.s, "bouts")
	if err := errors.Join(err1, err2, err3); err != nil {
		return nil, err
	}
	st.lengths = of(lengths, func(r schemas.Length) bool { return r.Session == id })
	st.lineage = of(lineage, func(r schemas.Lineage) bool { return r.Session == id })
	st.bouts = of(bouts, func(r schemas.Bout) bool { return r.Swimmer == session.Swimmer })
	for _, r := range e.ledger {
		if r.Session != nil && *r.Session == id {
			st.ledger = append(st.ledger, r)
		}
	}
	return st, nil
}

// ownBouts are the session's bouts.
func (st *story) ownBouts() []schemas.Bout {
	var own []schemas.Bout
	for _, b := range st.bouts {
		if b.Session == st.session.Session {
			own = append(own, b)
		}
	}
	return own
}

// printSessions goes through sessions.
func (e *explainer) printSessions(stories []*story) error {
	if e.c.json {
		out := []map[string]any{}
		for _, st := range stories {
			out = append(out, map[string]any{"session": byColumn(st.session), "name": e.names.name(st.session.Swimmer), "file": e.paths[st.session.FileID],
				"bouts": allByColumn(st.ownBouts()), "lengths": allByColumn(st.lengths), "ledger": allByColumn(st.ledger)})
		}
		return e.printJSON(out)
	}
	for i, st := range stories {
		if i > 0 {
			e.print("")
		}
		e.printSession(st)
	}
	return nil
}

func (e *explainer) printSession(st *story) {
	s := st.session
	e.print(fmt.Sprintf("Session %s of %s", s.Session, e.names.name(s.Swimmer)))
	if len(st.lengths) == 0 {
		e.item("No length of it is in use; the reasons are below. It came from " + e.file(s.FileID) + ".")
	} else {
		bouts := st.ownBouts()
		e.item(fmt.Sprintf("%s, %s %s, pool %s m", s.LocalDate, s.Kind, e.file(s.FileID), shown(s.PoolM, 2)))
		e.item(fmt.Sprintf("%s, %s, %d usable, %d designed; %d heart-rate samples, source %s",
			count(len(st.lengths), "length"), count(len(bouts), "bout"), s.UsableBouts, s.DesignedBouts, s.HRSamples, word(s.HRSource)))
		e.print("", "Bouts")
		e.print("   #  lengths        m  stroke           s    /100m    rate  heart rate")
		for _, b := range bouts {
			e.print(st.boutLine(b)...)
		}
	}
	if len(st.ledger) > 0 {
		e.print("", "What the rules met")
	}
	e.entries(st.ledger)
	e.print("")
	if len(st.lengths) > 0 {
		e.print("One length:", "  lengthwise explain "+s.Session+"/N", "One that was left out:", "  lengthwise explain "+e.shortFile(s.FileID)+":RECORD")
	}
}

// shortFile is how a file is named most shortly on a command line.
func (e *explainer) shortFile(id string) string {
	if path, ok := e.paths[id]; ok && !strings.ContainsAny(path, " '\"") {
		return path
	}
	return id
}

// boutLine is a bout on a line of its own, with a second one for what is said of it
// in words.
func (st *story) boutLine(b schemas.Bout) []string {
	first, last := int32(0), int32(0)
	for _, l := range st.lengths {
		if l.Bout == b.Bout {
			if first == 0 {
				first = l.Ordinal
			}
			last = l.Ordinal
		}
	}
	span := fmt.Sprintf("%d-%d", first, last)
	if first == last {
		span = fmt.Sprint(first)
	}
	hr := "none"
	if b.HRSteadyBPM != nil {
		hr = fmt.Sprintf("%s %s", shown(b.HRSteadyBPM, 0), word(b.HRMethod))
	}
	lines := []string{fmt.Sprintf("  %2d  %-9s  %5.0f  %-12s %7.1f  %7s  %6s  %s", b.Bout, span, b.DistanceM, b.Stroke, b.DurationS,
		pace(b.PaceSPer100M), shown(b.StrokeRateSPM, 1), hr)}
	note := designOf(b)
	if tags := tagsOf(b); tags != "" {
		note += ": " + tags
	}
	if !b.Usable {
		note += "; not usable: " + word(b.Reason)
	}
	if note != "observed" {
		lines = append(lines, "        "+note)
	}
	return lines
}

// tagsOf is what was set or noted for a bout.
func tagsOf(b schemas.Bout) string {
	var parts []string
	for _, t := range []struct {
		what  string
		value *string
	}{{"", b.Instruction}, {"kick ", b.Kick}, {"", b.Equipment}} {
		if t.value != nil {
			parts = append(parts, t.what+*t.value)
		}
	}
	if b.RateTarget != nil {
		parts = append(parts, "rate set "+shown(b.RateTarget, 0))
	}
	if b.Breathing != nil {
		parts = append(parts, "a breath in "+shown(b.Breathing, 0)+" strokes")
	}
	return strings.Join(parts, ", ")
}

func designOf(b schemas.Bout) string {
	if b.Designed {
		return "designed"
	}
	return "observed"
}

// entries writes ledger entries, neighbours of which the same is said as one, and
// the files that they name by their paths.
func (e *explainer) entries(own []schemas.LedgerEntry) {
	for i := 0; i < len(own); {
		r := own[i]
		last := r.Record + max(1, r.Records) - 1
		k := i + 1
		for k < len(own) && own[k].FileID == r.FileID && own[k].Kind == r.Kind && own[k].Rule == r.Rule && own[k].Action == r.Action &&
			own[k].Detail == r.Detail && own[k].Record == last+1 {
			last += max(1, own[k].Records)
			k++
		}
		i = k
		words := map[string]string{"excluded": "left out", "repaired": "repaired", "noted": "noted"}[r.Action]
		record := fmt.Sprintf("%s %d", r.Kind, r.Record)
		switch {
		case r.Record == 0:
			record = "the whole file"
		case last > r.Record:
			record = fmt.Sprintf("%s %d to %d", r.Kind, r.Record, last)
		}
		detail := fileID.ReplaceAllStringFunc(r.Detail, func(word string) string { return e.file(strings.TrimPrefix(word, "file ")) })
		e.item(fmt.Sprintf("%s %s by %s: %s", record, words, r.Rule, detail))
	}
}

// fileID is how a ledger's detail names a file.
var fileID = regexp.MustCompile(`\bfile f-[0-9a-z]+`)

// explainFile tells what became of a file.
func (e *explainer) explainFile(id string) error {
	var own []schemas.LedgerEntry
	for _, r := range e.ledger {
		if r.FileID == id {
			own = append(own, r)
		}
	}
	lineage, err := rowsOf[schemas.Lineage](e.s, "lineage")
	if err != nil {
		return err
	}
	type use struct {
		Session string         `json:"session"`
		Name    string         `json:"name"`
		Records map[string]int `json:"records_used"`
	}
	var uses []use
	seen := map[schemas.Lineage]bool{}
	for _, l := range lineage {
		if l.FileID != id || seen[schemas.Lineage{Record: l.Record, Kind: l.Kind, Session: l.Session}] {
			continue
		}
		seen[schemas.Lineage{Record: l.Record, Kind: l.Kind, Session: l.Session}] = true
		if n := len(uses); n == 0 || uses[n-1].Session != l.Session {
			uses = append(uses, use{l.Session, e.names.name(l.Swimmer), map[string]int{}})
		}
		uses[len(uses)-1].Records[l.Kind]++
	}
	if e.c.json {
		return e.printJSON(map[string]any{"file_id": id, "file": e.paths[id], "sessions": orEmpty(uses), "ledger": allByColumn(own)})
	}
	e.print("File " + e.file(id))
	for _, u := range uses {
		var parts []string
		for _, kind := range []string{"length", "repeat", "rest"} {
			if n := u.Records[kind]; n > 0 {
				parts = append(parts, count(n, kind))
			}
		}
		e.item(fmt.Sprintf("in session %s of %s: %s", u.Session, u.Name, strings.Join(parts, ", ")))
	}
	if len(uses) == 0 {
		e.item("none of its lengths, repeats or rests is in use")
	}
	if len(own) > 0 {
		e.print("", "What the rules met")
	}
	e.entries(own)
	return nil
}

func orEmpty[T any](rows []T) []T {
	if rows == nil {
		return []T{}
	}
	return rows
}

// byColumn is a table's row under the names of its columns.
func byColumn(row any) map[string]any {
	out := map[string]any{}
	v := reflect.ValueOf(row)
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("parquet"), ",")
		out[name] = v.Field(i).Interface()
	}
	return out
}

func allByColumn[T any](rows []T) []map[string]any {
	out := []map[string]any{}
	for _, r := range rows {
		out = append(out, byColumn(r))
	}
	return out
}

func (e *explainer) printJSON(v any) error {
	encoder := json.NewEncoder(e.c.stdout)
	encoder.SetIndent("", "  ")
	return encoder.Encode(v)
}

// print writes lines, item a text that is broken between words.
func (e *explainer) print(lines ...string) { fmt.Fprintln(e.c.stdout, strings.Join(lines, "\n")) }

func (e *explainer) item(text string) {
	e.print(wrap(text, e.c.width, "  ", "    ")...)
}
