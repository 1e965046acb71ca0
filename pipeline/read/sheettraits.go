package read

import (
	"slices"

	"lengthwise/pipeline/study"
)

// columnTraits is what a column as a whole tells of its cells.
type columnTraits struct {
	namesOnce bool // names stand on the first row of a swimmer's rows alone
	counts    bool // heart rates too low for beats a minute in every row
	scale6    bool // effort on Borg's scale from 6 to 20
}

// columnTraits looks through the rows once, for the order of dates too.
func (s *sheetReader) columnTraits() columnTraits {
	var t columnTraits
	named, unnamed, pulses, highest := 0, 0, 0, 0.0
	var dates []string
	if c, ok := s.constants["date"]; ok {
		dates = append(dates, c.text)
	}
	for _, row := range s.table.rows {
		for k := range s.layout.views {
			v := &s.layout.views[k]
			cell := func(column string) string {
				if i, ok := v.at[column]; ok && i < len(row.cells) {
					return csvText(row.cells[i])
				}
				return ""
			}
			if bpm, ok := s.table.csvNumber(cell("hr")); ok {
				pulses++
				highest = max(highest, bpm)
			}
			if rpe, ok := s.table.csvNumber(cell("rpe")); ok && rpe > 12 && rpe <= 20 {
				t.scale6 = true
			}
			if k > 0 {
				continue
			}
			if date := cell("date"); date != "" {
				dates = append(dates, date)
			}
			if cell("time") != "" {
				if cell("swimmer") == "" {
					unnamed++
				} else {
					named++
				}
			}
		}
	}
	t.namesOnce = unnamed >= named && named > 0
	t.counts = pulses > 0 && highest <= highestCount
	s.dates = s.src.Input.Dates
	if s.dates == study.AnyOrder {
		if s.dates = dateOrderOf(dates); s.dates != study.AnyOrder {
			s.noteOrder(dates)
		}
	}
	return t
}

// noteOrder says how dates of two meanings are read where there are any.
func (s *sheetReader) noteOrder(dates []string) {
	if slices.ContainsFunc(dates, func(cell string) bool {
		return csvDate(cell, study.AnyOrder).day == "" && csvDate(cell, s.dates).day != ""
	}) {
		s.noteFile(RuleDateOrder, "dates that can be read in two ways are read %s, as another of the column can only be", s.dates)
	}
}
