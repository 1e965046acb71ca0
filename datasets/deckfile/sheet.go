package deckfile

import (
	"encoding/csv"
	"fmt"
	"io"
	"strings"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Column is a column of a lane sheet.
type Column int

// The columns, in the order of a full sheet.
const (
	Swimmer Column = iota
	Date
	Start
	Session
	Set
	Rep
	Length
	DistanceM
	Pool
	Stroke
	Time
	Strokes
	Count
	HR
	HRSource
	HRDelay
	Rest
	RPE
	Lactate
	LactateBefore
	VO2
	InstructionColumn
	RateTarget
	WallTime
	Breathing
	KickColumn
	Equipment
	Notes
	columns int = iota
)

var columnNames = [columns]string{
	"swimmer", "date", "start", "session", "set", "rep", "length", "distance_m", "pool", "stroke", "time", "strokes",
	"count", "hr", "hr_source", "hr_delay", "rest", "rpe", "lactate", "lactate_before", "vo2", "instruction",
	"rate_target", "wall_time", "breathing", "kick", "equipment", "notes",
}

// String returns the column's header.
func (c Column) String() string { return columnNames[c] }

// Row is a row of a lane sheet: one text a column, numbers with a decimal point.
type Row [columns]string

// Format says how a sheet is written down.
type Format struct {
	Columns      []Column          // which columns, in which order; nil: all of them
	Rename       map[Column]string // headers of the sheet's own
	DecimalComma bool              // `;` between fields and `,` in numbers
	Tab          bool              // tabs between fields
	BOM          bool              // begin with a byte-order mark
	CP1252       bool              // code page 1252 instead of UTF-8
	UTF16        bool              // UTF-16 with its byte-order mark, as spreadsheets save Unicode text
	Banner       string            // a line before the header
	Date         string            // Go layout of dates; empty: 2006-01-02
	Times        TimeForm          // how times and rests are written
	Wide         WideHeaders       // how a wide sheet numbers its repeats
	Merged       bool              // what a swimmer's rows share stands on the first alone
	Total        string            // begins a row after each swimmer's; empty: no such row
}

// numeric tells which columns take a decimal comma.
func (c Column) numeric() bool {
	switch c {
	case DistanceM, Time, Strokes, HR, HRDelay, Rest, RPE, Lactate, LactateBefore, VO2, RateTarget, WallTime, Breathing:
		return true
	}
	return false
}

// WriteSheet writes rows as a lane sheet.
func WriteSheet(w io.Writer, rows []Row, f Format) error {
	cols := f.Columns
	if cols == nil {
		for c := range Column(columns) {
			cols = append(cols, c)
		}
	}
	records := make([][]string, 0, len(rows)+1)
	header := make([]string, len(cols))
	for i, c := range cols {
		header[i] = c.String()
		if name, ok := f.Rename[c]; ok {
			header[i] = name
		}
	}
	records = append(records, header)
	for k, r := range rows {
		if f.Merged && k > 0 {
			r = merged(r, rows[k-1])
		}
		r = f.dress(r)
		rec := make([]string, len(cols))
		for i, c := range cols {
			rec[i] = f.comma(c, r[c])
		}
		records = append(records, rec)
		if f.Total != "" && (k == len(rows)-1 || rows[k+1][Swimmer] != rows[k][Swimmer]) {
			total := make([]string, len(cols))
			total[0] = f.Total
			records = append(records, total)
		}
	}
	return f.write(w, records)
}

// write writes records in the format's separator and encoding.
func (f Format) write(w io.Writer, records [][]string) error {
	var text strings.Builder
	if f.BOM {
		text.WriteString("\ufeff")
	}
	if f.Banner != "" {
		text.WriteString(f.Banner + "\n")
	}
	cw := csv.NewWriter(&text)
	switch {
	case f.DecimalComma:
		cw.Comma = ';'
	case f.Tab:
		cw.Comma = '\t'
	}
	if err := cw.WriteAll(records); err != nil {
		return fmt.Errorf("deckfile: write: %w", err)
	}
	out := text.String()
	if f.CP1252 {
		var err error
		if out, _, err = transform.String(charmap.Windows1252.NewEncoder(), out); err != nil {
			return fmt.Errorf("deckfile: code page 1252 cannot hold the sheet: %w", err)
		}
	}
	if f.UTF16 {
		var err error
		if out, _, err = transform.String(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder(), out); err != nil {
			return fmt.Errorf("deckfile: UTF-16: %w", err)
		}
	}
	_, err := io.WriteString(w, out)
	return err
}

// wideRepColumns are the columns that a wide sheet repeats for each rep.
var wideRepColumns = []Column{Time, Strokes, HR}

// WriteWide writes repeat rows as a wide sheet: one line for each run of rows of
// one swimmer, date and distance, with rep1_time, rep1_strokes, rep1_hr, rep2_time
// and so on after the columns that the whole run shares.
func WriteWide(w io.Writer, rows []Row, f Format) error {
	shared := f.Columns
	if shared == nil {
		shared = []Column{Swimmer, Date, DistanceM, Pool, Stroke, Count}
	}
	type run struct{ rows []Row }
	var runs []run
	most := 0
	for i, r := range rows {
		if i == 0 || r[Swimmer] != rows[i-1][Swimmer] || r[Date] != rows[i-1][Date] || r[DistanceM] != rows[i-1][DistanceM] {
			runs = append(runs, run{})
		}
		last := &runs[len(runs)-1]
		last.rows = append(last.rows, r)
		most = max(most, len(last.rows))
	}
	name := func(c Column) string {
		if own, ok := f.Rename[c]; ok {
			return own
		}
		return c.String()
	}
	header := make([]string, 0, len(shared)+3*most)
	above := make([]string, len(shared), cap(header))
	for _, c := range shared {
		header = append(header, name(c))
	}
	for k := range most {
		for i, c := range wideRepColumns {
			header = append(header, f.Wide.header(k+1, name(c)))
			above = append(above, "")
			if i == 0 {
				above[len(above)-1] = fmt.Sprintf("Rep %d", k+1)
			}
		}
	}
	records := [][]string{header}
	if f.Wide == LineAbove {
		records = [][]string{above, header}
	}
	for _, run := range runs {
		rec := make([]string, 0, len(header))
		first := f.dress(run.rows[0])
		for _, c := range shared {
			rec = append(rec, f.comma(c, first[c]))
		}
		for k := range most {
			for _, c := range wideRepColumns {
				if k < len(run.rows) {
					rec = append(rec, f.comma(c, f.dress(run.rows[k])[c]))
				} else {
					rec = append(rec, "")
				}
			}
		}
		records = append(records, rec)
	}
	return f.write(w, records)
}
