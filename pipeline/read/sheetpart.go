package read

import (
	"cmp"
	"slices"
)

// sheetPart reads the rows of some of a sheet's swimmers: of all, or of those that
// fall into one part of a long sheet. What it makes of a row depends on the rows of
// the same swimmer, on what sheetFront found above the row, and on the habits of
// who wrote the sheet; on nothing else.
type sheetPart struct {
	*sheetFacts
	sheetLedger
	memory sheetMemory
	lost   []int64 // records that could belong to any swimmer or session, in order

	groups  []*sheetGroup
	newest  map[string]*sheetGroup // of a swimmer, day and session
	grouped *sheetGroup            // of the row that was grouped last

	signs  sheetSigns
	habits sheetHabits

	distanceNoted bool
}

// sheetSigns is what rows show of the habits of who wrote the sheet.
type sheetSigns struct {
	slipped             bool // a time is minutes that a spreadsheet took for hours
	running             bool // times run on through a swim of some lengths
	restsAfter          int  // rests of sessions in which each row has one but the last
	restsBefore         bool // a session is not so
	onlyMean, onlyTotal bool // a count can only be the mean of a length, or only a total
}

// and adds what other rows show.
func (s sheetSigns) and(t sheetSigns) sheetSigns {
	return sheetSigns{slipped: s.slipped || t.slipped, running: s.running || t.running, restsAfter: s.restsAfter + t.restsAfter,
		restsBefore: s.restsBefore || t.restsBefore, onlyMean: s.onlyMean || t.onlyMean, onlyTotal: s.onlyTotal || t.onlyTotal}
}

// restAfter reports whether, without the header's saying so, rests stand in the row
// before them.
func (s sheetSigns) restAfter() bool { return !s.restsBefore && s.restsAfter >= fewestRestAfter-1 }

// sheetHabits is how a sheet was written, where only its rows together can tell.
type sheetHabits struct {
	slipped   bool // rests like 0:20:00 are minutes, seconds and hundredths, as times are
	running   bool // times of swims that look so run on
	restAfter bool // rests stand in the row before them
	means     bool // counts of repeats that may be means of a length are in doubt
}

// habitsFrom tells habits from the signs of all rows.
func (f *sheetFacts) habitsFrom(s sheetSigns) sheetHabits {
	return sheetHabits{slipped: s.slipped, running: s.running, restAfter: f.restAfter || s.restAfter(), means: s.onlyMean && !s.onlyTotal}
}

func newSheetPart(f *sheetFacts) *sheetPart {
	return &sheetPart{sheetFacts: f, sheetLedger: sheetLedger{file: File{ID: f.src.FileID}}, memory: newSheetMemory(), newest: map[string]*sheetGroup{}}
}

// take reads a row, and groups it.
func (s *sheetPart) take(r *sheetRow) {
	s.parse(r)
	if r.date != "" {
		s.group(*r)
	}
}

// build turns groups into recordings, in the order of their first rows. Without given
// habits those that these rows show are taken, each before what depends on it is
// looked at; with them, signs tells what the rows would have shown.
func (s *sheetPart) build(given *sheetHabits) (starts []int64) {
	show := func() {
		if given == nil {
			s.habits = s.habitsFrom(s.signs)
		} else {
			s.habits = *given
		}
	}
	var groups []*sheetGroup
	for _, g := range s.groups {
		groups = append(groups, s.bySession(g)...)
	}
	slices.SortStableFunc(groups, func(a, b *sheetGroup) int { return cmp.Compare(a.rows[0].record, b.rows[0].record) })
	s.groups = groups
	if show(); s.habits.slipped {
		s.unslipRests()
	}
	swims := s.seeRunning()
	if show(); s.habits.running {
		s.unrunTimes(swims)
	}
	s.seeRests()
	show()
	for _, g := range s.groups {
		s.markTwice(g)
		s.markTotals(g)
		s.markSums(g)
		if s.habits.restAfter {
			s.shiftRests(g)
		}
	}
	s.seeCounts()
	show()
	s.doubtStrokes()
	for _, g := range s.groups {
		if rec, ok := s.recording(g); ok {
			rec.Part = len(s.file.Recordings) + 1
			s.file.Recordings = append(s.file.Recordings, rec)
			starts = append(starts, g.rows[0].record)
		}
	}
	return starts
}

// sheetWhole is a sheet that was read at once.
type sheetWhole struct {
	*sheetFront
	file File
}

// readSheet reads a lane sheet at once. Each row, as parsed or left out, is also given
// to see, nil for nobody.
func readSheet(data []byte, src SheetSource, see func(*sheetRow)) (*sheetWhole, error) {
	in := wholeInput(data)
	front, err := newSheetFront(in, src)
	if err != nil {
		return nil, err
	}
	part := newSheetPart(front.sheetFacts)
	err = front.run(in, func(r *sheetRow) error {
		part.take(r)
		if see != nil {
			see(r)
		}
		return nil
	}, see)
	if err != nil {
		return nil, err
	}
	part.lost = front.lost
	part.build(nil)
	front.noteHabits(part.habits)
	whole := &sheetWhole{sheetFront: front, file: part.file}
	whole.file.Counts = front.file.Counts
	whole.file.Entries = inOrder(front.entries, part.entries)
	return whole, nil
}

// noteHabits notes what the sheet as a whole showed at its end.
func (s *sheetFront) noteHabits(h sheetHabits) {
	if h.restAfter && !s.restAfter {
		s.noteFile(RuleRestAfter, "in every session each row has a rest but the last: a rest stands in the row of the swim before it, and is taken for the next row")
	}
}
