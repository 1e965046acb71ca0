package read

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"lengthwise/pipeline/study"
)

// Understood is what was understood of a sheet, in plain words. It names
// swimmers and headers and is for the squad's own eyes alone.
type Understood struct {
	Table []string // how the table as a whole was read, a sentence each
	Rows  []string // its first rows, one text each, in their order
}

// UnderstandSheet tells how Sheet reads a lane sheet: the table as a whole and
// its first rows. Nothing is printed. The error is that of Sheet.
func UnderstandSheet(data []byte, src SheetSource, rows int) (Understood, error) {
	var first []sheetRow
	s, err := readSheet(data, src, func(r *sheetRow) {
		if len(first) < rows {
			first = append(first, *r)
		}
	})
	if err != nil {
		return Understood{}, err
	}
	return s.understood(&s.file, first), nil
}

// UnderstandLongSheet tells how LongSheetOf reads a lane sheet.
func UnderstandLongSheet(ctx context.Context, open Bytes, src SheetSource, o LongSheetOptions, rows int) (Understood, error) {
	l, err := readLong(ctx, open, src, o, rows)
	if err != nil {
		return Understood{}, err
	}
	f := l.File
	packer := Packer{Zones: o.Zones}
	for i := range l.packed {
		if l.packed[i].start > int64(rows) {
			break
		}
		data := make([]byte, l.packed[i].place.bytes)
		if err := l.blocks.at(l.packed[i].place, data); err != nil {
			return Understood{}, err
		}
		r, err := packer.Unpack(data)
		if err != nil {
			return Understood{}, err
		}
		f.Recordings = append(f.Recordings, r)
	}
	slices.SortFunc(l.first, func(a, b sheetRow) int { return cmp.Compare(a.record, b.record) })
	return l.front.understood(&f, l.first), nil
}

// understood tells how a sheet was read, and its first rows.
func (s *sheetFront) understood(f *File, first []sheetRow) Understood {
	u := Understood{Table: s.tableInWords(f.Entries)}
	used := map[int64]*Length{}
	recording := map[int64]*Recording{}
	for i := range f.Recordings {
		rec := &f.Recordings[i]
		for k := range rec.Lengths {
			used[rec.Lengths[k].Record], recording[rec.Lengths[k].Record] = &rec.Lengths[k], rec
		}
	}
	for i := range first {
		r := &first[i]
		text := ""
		if l := used[r.record]; l != nil {
			text = rowInWords(r, l, recording[r.record])
		}
		u.Rows = append(u.Rows, withEntries(r, f.Entries, text))
	}
	return u
}

// tableInWords tells how the table was found and laid out, by its first header.
func (s *sheetFront) tableInWords(entries []Entry) []string {
	sign := map[byte]string{',': "commas", ';': "semicolons", '\t': "tabs"}[s.table.comma]
	lines := []string{fmt.Sprintf("The header is in line %d, cells are set apart by %s.", s.table.headerLine, sign)}
	l := s.heads.layout(s.firstHeader, s.lineAbove())
	var meant, foreign []string
	told := map[int]bool{}
	for _, v := range l.views {
		for _, column := range append([]string{firstNames, lastNames, countColumn}, study.ColumnNames(study.Sheet)...) {
			if i, ok := v.at[column]; ok && !told[i] && v.says[column].rank == byMeaning {
				told[i] = true
				meant = append(meant, strconv.Quote(strings.TrimSpace(s.firstHeader[i]))+" as "+v.says[column].inWords())
			}
		}
		if v.number > 1 {
			break // the others are alike
		}
	}
	if len(meant) > 0 {
		lines = append(lines, fmt.Sprintf("Taken by what they mean: %s. If one means something else, say under columns in the study file what stands for that column, or rename it.",
			strings.Join(meant, ", ")))
	}
	for _, i := range l.unused {
		foreign = append(foreign, strconv.Quote(strings.TrimSpace(s.firstHeader[i])))
	}
	if len(foreign) > 0 {
		lines = append(lines, fmt.Sprintf("Not used: %s. What stands under a header of your own is read when columns in the study file says what it is.",
			strings.Join(foreign, ", ")))
	}
	for _, e := range entries {
		if e.Kind == KindFile {
			lines = append(lines, strings.ToUpper(e.Detail[:1])+e.Detail[1:]+".")
		}
	}
	return lines
}

// inWords tells what a header was taken for.
func (d heading) inWords() string {
	text := d.column
	if d.column == countColumn {
		text = fmt.Sprintf("hr, counted over %.0f s", d.countS)
	}
	if d.mean {
		text += " (the mean of a length)"
	}
	if d.yards {
		text += " (in yards)"
	}
	if d.basis != "" {
		text += fmt.Sprintf(" (%s)", d.basis)
	}
	return text
}

// withEntries adds to a row's text what its entries say.
func withEntries(r *sheetRow, entries []Entry, text string) string {
	at := strings.TrimSuffix(csvDetail(r.row, "", ""), ": ")
	var left, noted []string
	for _, e := range entries {
		if e.Kind != r.kind || r.record < e.Record || r.record >= e.Record+e.Records {
			continue
		}
		detail := strings.TrimPrefix(strings.TrimPrefix(e.Detail, at), ", ")
		detail = strings.TrimPrefix(detail, ": ")
		if e.Action != Excluded && e.Record != r.record {
			continue // told with the first of the records that it is about
		}
		if e.Action == Excluded {
			left = append(left, detail)
		} else {
			noted = append(noted, detail)
		}
	}
	switch {
	case len(left) > 0:
		text = "left out: " + strings.Join(left, "; ")
	case text == "":
		text = "left out"
	case len(noted) > 0:
		text += " (" + strings.Join(noted, "; ") + ")"
	}
	return at + ": " + text
}

// rowInWords tells what a row in use says.
func rowInWords(r *sheetRow, l *Length, rec *Recording) string {
	var parts []string
	add := func(format string, args ...any) { parts = append(parts, fmt.Sprintf(format, args...)) }
	name := r.name
	if name == "" {
		name = "the file's swimmer"
	}
	switch {
	case r.owner.Refused != "":
		add("%s (not used: %s)", name, r.owner.Refused)
	default:
		add("%s", name)
	}
	day, _ := time.Parse(time.DateOnly, r.date)
	when := day.Format("2 January 2006")
	if r.hasStart {
		when += day.Add(r.start.clock).Format(", from 15:04")
	}
	parts = append(parts, when)
	pool := l.PoolM
	if math.IsNaN(pool) {
		pool = rec.PoolM
	}
	add("%s pool", poolInWords(pool))
	switch {
	case l.Drill:
		add("drill")
	case l.Stroke == "unknown":
		add("stroke not stated")
	default:
		add("%s", l.Stroke)
	}
	if l.Kind == KindLength {
		add("length %d in %s", r.number, secondsInWords(l.DurationS))
	} else {
		add("%s in %s", distanceInWords(l.Covers, pool), secondsInWords(l.DurationS))
	}
	add("%s", strokesInWords(l, rec))
	if text := l.End.inWords(); text != "" {
		add("%s", text)
	}
	if l.RestS > 0 {
		add("after %s of rest", secondsInWords(l.RestS))
	}
	return strings.Join(append(parts, l.Tags.inWords()...), ", ")
}

// inWords tells a reading, "" when there is none.
func (h Reading) inWords() string {
	if math.IsNaN(h.HRBPM) {
		return ""
	}
	text := fmt.Sprintf("heart rate %.0f", h.HRBPM)
	switch h.Source {
	case "strap":
		text += " by strap"
	case "optical":
		text += " by wrist sensor"
	case "palpated":
		text += " by hand"
	}
	if h.StepBPM > 0 {
		text += fmt.Sprintf(" (known to %.4g)", h.StepBPM)
	}
	if !math.IsNaN(h.DelayS) {
		text += fmt.Sprintf(" %.4g s after the touch", h.DelayS)
	}
	return text
}

// inWords tells what was set or noted, in the order of the columns.
func (t Tags) inWords() []string {
	var parts []string
	number := func(x float64, format string) {
		if !math.IsNaN(x) {
			parts = append(parts, fmt.Sprintf(format, x))
		}
	}
	word := func(text, format string) {
		if text != "" {
			parts = append(parts, fmt.Sprintf(format, text))
		}
	}
	number(t.RPE, "effort %.3g of 10")
	number(t.LactateMMOL, "lactate %.3g mmol/L")
	number(t.LactateBefore, "lactate before %.3g mmol/L")
	number(t.VO2, "oxygen %.3g mL/kg/min")
	word(strings.ReplaceAll(t.Instruction, "-", " "), "instruction: %s")
	number(t.RateTargetSPM, "rate set to %.3g a minute")
	number(t.Breathing, "a breath every %.3g strokes")
	word(t.Kick, "kick: %s")
	word(t.Equipment, "equipment: %s")
	return parts
}

// strokesInWords tells a row's count and what it counts.
func strokesInWords(l *Length, rec *Recording) string {
	if math.IsNaN(l.Strokes) {
		return "strokes not counted"
	}
	basis := l.Basis
	if basis == "" {
		basis = rec.Basis
	}
	unit := map[study.CountBasis]string{study.Arms: "arm strokes", study.Cycles: "stroke cycles"}[basis]
	if unit == "" {
		unit = "strokes (whether arms or cycles is not stated)"
	}
	return fmt.Sprintf("%.5g %s", l.Strokes, unit)
}

// distanceInWords gives 200 m (8 lengths).
func distanceInWords(covers int, pool float64) string {
	noun := "lengths"
	if covers == 1 {
		noun = "length"
	}
	if wholeYards(pool) {
		return fmt.Sprintf("%.0f yards (%d %s)", float64(covers)*pool/study.MetresPerYard, covers, noun)
	}
	return fmt.Sprintf("%.5g m (%d %s)", float64(covers)*pool, covers, noun)
}

func poolInWords(metres float64) string {
	if wholeYards(metres) {
		return fmt.Sprintf("%.0f yard", metres/study.MetresPerYard)
	}
	return fmt.Sprintf("%.4g m", metres)
}

// secondsInWords gives seconds below a minute, else minutes and seconds, to
// the hundredth where there are any.
func secondsInWords(seconds float64) string {
	hundredths := math.Round(seconds * 100)
	text := func(h float64) string { return strconv.FormatFloat(h/100, 'f', -1, 64) }
	if hundredths < 6000 {
		return text(hundredths) + " s"
	}
	minutes := math.Floor(hundredths / 6000)
	rest := text(hundredths - 6000*minutes)
	if len(strings.Split(rest, ".")[0]) < 2 {
		rest = "0" + rest
	}
	return fmt.Sprintf("%.0f:%s min", minutes, rest)
}
