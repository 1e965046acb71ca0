package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/screen"
	"lengthwise/schemas"
)

// life is what is known of one length, or of a record that became none.
type life struct {
	Session  string           `json:"session"`
	Swimmer  string           `json:"swimmer"`
	Name     string           `json:"name"`
	Date     string           `json:"local_date"`
	Ordinal  int32            `json:"ordinal"` // 0: no length in use
	Records  []recordLife     `json:"records"`
	Ledger   []map[string]any `json:"ledger"`
	Used     map[string]any   `json:"used"` // the row of the table lengths; null when left out
	Rules    []ruleLife       `json:"rules_tried"`
	NoRules  string           `json:"rules_not_retraced"` // why, "" where they are
	Heart    *run.HeartRateIn `json:"heart_rate_during"`
	Bout     map[string]any   `json:"bout"`
	NoModels string           `json:"no_models"` // why its bout entered none
	Models   []modelLife      `json:"models"`

	length *schemas.Length
	bout   *schemas.Bout
	ledger []schemas.LedgerEntry
}

// recordLife is a source record as it was recorded.
type recordLife struct {
	FileID    string   `json:"file_id"`
	File      string   `json:"file"`
	Kind      string   `json:"kind"`
	Record    int64    `json:"record"`
	Relation  string   `json:"relation"`
	StartS    *float64 `json:"start_s"`
	DurationS *float64 `json:"duration_s"`
	Strokes   *float64 `json:"strokes"`
	Basis     string   `json:"stroke_count_basis"`
	Stroke    string   `json:"stroke"`
	PoolM     *float64 `json:"pool_m"`
	EndBPM    *float64 `json:"end_reading_bpm"`
	Covers    int      `json:"covers_lengths"`
}

// ruleLife is how one rule went.
type ruleLife struct {
	Rule    string   `json:"rule"`
	Outcome string   `json:"outcome"`
	Words   string   `json:"words"`
	Value   *float64 `json:"value"`
	Low     *float64 `json:"passes_from"`
	High    *float64 `json:"passes_to"`
	Unit    string   `json:"unit"`
}

// explainLength tells the life of a length of a session.
func (e *explainer) explainLength(ctx context.Context, st *story, n int) error {
	at := slices.IndexFunc(st.lengths, func(l schemas.Length) bool { return int(l.Ordinal) == n })
	if at < 0 {
		if len(st.lengths) == 0 {
			return usageError{fmt.Errorf("session %s has no length in use; name a record: FILE:RECORD", st.session.Session)}
		}
		return usageError{fmt.Errorf("session %s has lengths 1 to %d, not %d; one that was left out is named by its record, FILE:RECORD", st.session.Session, len(st.lengths), n)}
	}
	l := st.lengths[at]
	x := e.lifeOf(st)
	x.Ordinal, x.length, x.Used = l.Ordinal, &l, byColumn(l)
	for _, link := range st.lineage {
		if link.Ordinal == l.Ordinal && link.Kind != "rest" {
			x.Records = append(x.Records, recordLife{FileID: link.FileID, File: e.paths[link.FileID], Kind: link.Kind, Record: link.Record, Relation: link.Relation})
		}
	}
	share := 1
	for _, before := range st.lengths[:at] {
		if before.FileID == l.FileID && before.Record == l.Record && l.RecordedAs == "repeat" {
			share++
		}
	}
	x.takeLedger(st.ledger)
	if err := e.retrace(ctx, x, screen.Source{FileID: l.FileID, Record: l.Record}, share); err != nil {
		return err
	}
	if err := e.models(x, st); err != nil {
		return err
	}
	return e.printLife(x)
}

// explainRecord tells the life of a record: that of the length which it became, or
// why it became none.
func (e *explainer) explainRecord(ctx context.Context, id string, record int64) error {
	lineage, err := rowsOf[schemas.Lineage](e.s, "lineage")
	if err != nil {
		return err
	}
	for _, link := range lineage {
		if link.FileID == id && link.Record == record && (link.Kind == "length" || link.Kind == "repeat") {
			session, err := e.sessionOfID(link.Session)
			if err != nil {
				return err
			}
			st, err := e.story(session[0])
			if err != nil {
				return err
			}
			return e.explainLength(ctx, st, int(link.Ordinal))
		}
	}
	var own []schemas.LedgerEntry
	for _, r := range e.ledger {
		if r.FileID == id && (r.Record == 0 || r.Record <= record && record < r.Record+max(1, r.Records)) &&
			!slices.Contains([]string{"heart-rate", "rest"}, r.Kind) {
			own = append(own, r)
		}
	}
	if len(own) == 0 {
		return usageError{fmt.Errorf("%s has no length or repeat %d; \"lengthwise explain %s\" tells what it holds", e.file(id), record, e.shortFile(id))}
	}
	x := &life{ledger: own}
	for _, r := range own {
		if r.Session != nil && r.Swimmer != nil {
			session, err := e.sessionOfID(*r.Session)
			if err != nil {
				return err
			}
			x = e.lifeOf(&story{session: session[0]})
			x.ledger = own
			break
		}
	}
	kind := own[len(own)-1].Kind
	x.Records = []recordLife{{FileID: id, File: e.paths[id], Kind: kind, Record: record, Relation: "left out"}}
	x.NoModels = "it is left out"
	if x.Session == "" {
		x.NoRules = "it was left out before it reached a session"
	} else if err := e.retrace(ctx, x, screen.Source{FileID: id, Record: record}, 1); err != nil {
		return err
	}
	return e.printLife(x)
}

func (e *explainer) lifeOf(st *story) *life {
	return &life{Session: st.session.Session, Swimmer: st.session.Swimmer, Name: e.names.name(st.session.Swimmer), Date: st.session.LocalDate}
}

// takeLedger keeps the ledger's entries on the length's records.
func (x *life) takeLedger(ledger []schemas.LedgerEntry) {
	for _, r := range ledger {
		for _, own := range x.Records {
			if r.FileID == own.FileID && r.Kind == own.Kind && r.Record <= own.Record && own.Record < r.Record+max(1, r.Records) {
				x.ledger = append(x.ledger, r)
				break
			}
		}
	}
}

// retrace works out anew how the rules went, and takes what was recorded from
// there. Where the files no longer give what the result holds it says so.
func (e *explainer) retrace(ctx context.Context, x *life, of screen.Source, share int) error {
	keep := map[string]bool{}
	for _, r := range e.sessions {
		if r.Swimmer == x.Swimmer {
			keep[r.FileID] = true
		}
	}
	for _, r := range e.ledger {
		if r.Swimmer != nil && *r.Swimmer == x.Swimmer {
			keep[r.FileID] = true
		}
	}
	for _, r := range e.ledger {
		if r.Rule == normalise.RuleTwoOwners {
			delete(keep, r.FileID)
		}
	}
	lineage, err := rowsOf[schemas.Lineage](e.s, "lineage")
	if err != nil {
		return err
	}
	for _, r := range lineage {
		if r.Swimmer == x.Swimmer {
			keep[r.FileID] = true
		}
	}
	again, err := run.Retrace(ctx, e.s, run.Options{Workers: e.runtime.Workers}, x.Swimmer, x.Session, of, share, func(id string) bool { return keep[id] })
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err == nil && !x.agrees(again) {
		err = errors.New("the files or the study file have changed since the run")
	}
	if err != nil {
		x.NoRules = fmt.Sprintf("%v; \"lengthwise run\" makes the result anew", err)
		return nil
	}
	for _, t := range again.Tried {
		x.Rules = append(x.Rules, ruleLife{t.Rule, string(t.Outcome), t.Words, finite(t.Value), finite(t.Low), finite(t.High), t.Unit})
	}
	x.Heart = &again.Samples
	for i := range x.Records {
		x.Records[i].fill(&again.Session)
	}
	return nil
}

// agrees tells whether the length is what the result says it is.
func (x *life) agrees(again *run.Retraced) bool {
	if x.length == nil {
		return !slices.ContainsFunc(again.Session.Lineage, func(l screen.Link) bool {
			return l.FileID == x.Records[0].FileID && l.Record == x.Records[0].Record && string(l.Kind) == x.Records[0].Kind
		})
	}
	at := int(x.length.Ordinal) - 1
	if at >= len(again.Session.Kept) {
		return false
	}
	l := &again.Session.Kept[at]
	return l.FileID == x.length.FileID && l.Record == x.length.Record && math.Abs(l.DurationS-x.length.DurationS) < 1e-6 && l.Rule == wordOr(x.length.Rule, "")
}

func wordOr(s *string, otherwise string) string {
	if s == nil {
		return otherwise
	}
	return *s
}

// fill takes the recorded values from the session as it was before screening.
func (r *recordLife) fill(s *screen.Session) {
	for i := range s.Lengths {
		l := &s.Lengths[i]
		if l.FileID != r.FileID || l.Record != r.Record || string(l.Kind) != r.Kind {
			continue
		}
		covers := max(1, l.Covers)
		r.StartS, r.DurationS, r.Strokes = finite(l.StartS), finite(l.DurationRecordedS*float64(covers)), finite(l.StrokesRecorded*float64(covers))
		r.Basis, r.Stroke, r.PoolM, r.Covers = string(l.RecorderBasis), l.Stroke, finite(l.PoolM), covers
		if covers > 1 {
			for k := i; k < len(s.Lengths) && s.Lengths[k].Record == l.Record; k++ {
				r.EndBPM = finite(s.Lengths[k].End.HRBPM)
			}
		} else {
			r.EndBPM = finite(l.End.HRBPM)
		}
		return
	}
}

// finite is a number, or null.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func (e *explainer) printLife(x *life) error {
	if e.c.json {
		x.Ledger = allByColumn(x.ledger)
		if x.bout != nil {
			x.Bout = byColumn(*x.bout)
		}
		return e.printJSON(x)
	}
	switch {
	case x.length != nil:
		e.print(wrap(fmt.Sprintf("Length %d of session %s: %s, %s", x.Ordinal, x.Session, x.Name, x.Date), e.c.width, "", "  ")...)
	case x.Session != "":
		e.print(wrap(fmt.Sprintf("A record that was left out of session %s: %s", x.Session, strings.TrimSuffix(x.Name+", "+x.Date, ", ")), e.c.width, "", "  ")...)
	default:
		e.print("A record that is in no session")
	}
	e.print("", "Recorded")
	for i := range x.Records {
		e.item(x.Records[i].words(e))
	}
	e.print("", "What was made of it")
	e.entries(x.ledger)
	if x.length != nil {
		e.item(x.usedWords())
	}
	if len(x.Rules) > 0 {
		e.print("", "The rules, in the order in which they look")
		for _, r := range x.Rules {
			e.print(wrap(fmt.Sprintf("%s: %s", r.Rule, r.Words), e.c.width, fmt.Sprintf("  %-10s", r.Outcome), strings.Repeat(" ", 12))...)
		}
	} else {
		e.print("", "How the rules went cannot be told")
		e.item(x.NoRules)
	}
	if x.length == nil {
		return nil
	}
	e.printMeasures(x)
	e.printBout(x)
	e.printModels(x)
	return nil
}

// words tells what a record holds.
func (r *recordLife) words(e *explainer) string {
	text := fmt.Sprintf("%s %d of %s", r.Kind, r.Record, e.file(r.FileID))
	if r.DurationS == nil {
		return text
	}
	text += fmt.Sprintf(": %.1f s", *r.DurationS)
	if r.Strokes == nil {
		text += ", no strokes counted"
	} else {
		text += fmt.Sprintf(", %.4g strokes (%s)", *r.Strokes, map[string]string{"arms": "each arm counted", "cycles": "cycles counted", "unknown": "counting basis unknown"}[r.Basis])
	}
	text += ", " + r.Stroke
	if r.Covers > 1 {
		text += fmt.Sprintf(", a row of %d lengths", r.Covers)
	}
	if r.PoolM != nil {
		text += fmt.Sprintf(", %.4g m pool", *r.PoolM)
	}
	if r.StartS != nil {
		text += ", starts " + clockOf(*r.StartS) + " into the session"
	}
	if r.EndBPM != nil {
		text += fmt.Sprintf(", heart rate %.0f at the wall", *r.EndBPM)
	}
	return text
}

func clockOf(seconds float64) string {
	n := int(math.Round(seconds))
	if n >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
	}
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// usedWords tells what is used in place of what was recorded.
func (x *life) usedWords() string {
	l := x.length
	strokes := "no strokes"
	if l.Strokes != nil {
		kind := "arm strokes"
		switch {
		case l.StrokeCountBasis == "unknown":
			kind = "strokes as counted"
		case l.Stroke == "breaststroke" || l.Stroke == "butterfly":
			kind = "cycles"
		}
		strokes = fmt.Sprintf("%.4g %s", *l.Strokes, kind)
	}
	text := fmt.Sprintf("used: %.1f s, %s, %s, %.4g m", l.DurationS, strokes, l.Stroke, l.PoolM)
	switch relation := x.Records[0].Relation; {
	case relation == "split":
		text += ", its part of the record"
	case relation == "join":
		text += fmt.Sprintf(", of %d records together", len(x.Records))
	case relation == "evened":
		text += ", its share of the two records"
	case relation == "share":
		text += fmt.Sprintf(", an equal share of a row of %d lengths", max(1, x.Records[0].Covers))
	case l.Status == "kept":
		text += ", as recorded"
	}
	if l.StrokesFileID != nil {
		text += "; the count is a sheet's, by hand"
	}
	return text
}
