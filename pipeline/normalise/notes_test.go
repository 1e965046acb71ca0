package normalise

import (
	"math"
	"slices"
	"testing"
	"time"

	"lengthwise/pipeline/read"
)

func note(record int64, from, to int, key, value string) read.Note {
	return read.Note{Record: record, Swimmer: "ada", LocalDate: "2026-03-02", RepFrom: from, RepTo: to, Key: key, Value: value}
}

func TestNotes(t *testing.T) {
	s := func() read.Recording {
		r := sheet("s", morning, 80, 80, 80)
		r.Lengths[2].Tags.Kick = "full"
		return r
	}
	other := note(9, 0, 0, "kick", "none")
	other.Swimmer = "bea"
	day := note(9, 0, 0, "kick", "none")
	day.LocalDate = "2026-03-09"
	for _, c := range []struct {
		name    string
		notes   []read.Note
		kick    []string // by swim
		rpe     []float64
		entries []string
	}{
		{"a range", []read.Note{note(1, 1, 2, "Kick", "Light")}, []string{"light", "light", "full"}, nil, nil},
		{"one swim", []read.Note{note(1, 2, 0, "kick", "light")}, []string{"", "light", "full"}, nil, nil},
		{"a cell wins", []read.Note{note(1, 3, 3, "kick", "none")}, []string{"", "", "full"}, nil, []string{" note 1+1 note-overruled noted"}},
		{"all fills what is left", []read.Note{note(1, 0, 0, "kick", "none"), note(2, 1, 1, "kick", "light")}, []string{"light", "none", "full"}, nil, nil},
		{"a number with a decimal comma", []read.Note{note(1, 0, 0, "rpe", "6,5")}, []string{"", "", "full"}, []float64{6.5, 6.5, 6.5}, nil},
		{"no such swim", []read.Note{note(1, 7, 9, "kick", "none")}, []string{"", "", "full"}, nil, []string{" note 1+1 note-unmatched noted"}},
		{"no such day", []read.Note{day}, []string{"", "", "full"}, nil, []string{" note 9+1 note-unmatched noted"}},
		{"somebody else's", []read.Note{other}, []string{"", "", "full"}, nil, nil},
		{"not a word", []read.Note{note(1, 0, 0, "kick", "hard")}, []string{"", "", "full"}, nil, []string{" note 1+1 unreadable noted"}},
		{"not a number", []read.Note{note(1, 0, 0, "rpe", "NaN"), note(2, 0, 0, "vo2", "x"), note(3, 0, 0, "lactate", "-1")}, []string{"", "", "full"}, nil,
			[]string{" note 1+1 unreadable noted", " note 2+1 unreadable noted", " note 3+1 unreadable noted"}},
		{"no range", []read.Note{note(1, 3, 2, "kick", "none"), note(2, -1, 2, "kick", "none")}, []string{"", "", "full"}, nil,
			[]string{" note 1+1 unreadable noted", " note 2+1 unreadable noted"}},
		{"empty", []read.Note{note(1, 0, 0, "", "x"), note(2, 0, 0, "equipment", " ")}, []string{"", "", "full"}, nil,
			[]string{" note 1+1 unreadable noted", " note 2+1 unreadable noted"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, entries := sessions(t, c.notes, s())
			for _, l := range got[0].Lengths {
				if l.Tags.Kick != c.kick[l.Swim-1] {
					t.Errorf("swim %d: kick %q, want %q", l.Swim, l.Tags.Kick, c.kick[l.Swim-1])
				}
				if c.rpe != nil && l.Tags.RPE != c.rpe[l.Swim-1] || c.rpe == nil && !math.IsNaN(l.Tags.RPE) {
					t.Errorf("swim %d: rpe %v", l.Swim, l.Tags.RPE)
				}
			}
			if b := brief(entries); !slices.Equal(b, append([]string{}, c.entries...)) {
				t.Errorf("entries %q, want %q", b, c.entries)
			}
		})
	}
}

// TestNotesReadWordsAsSheetsDo holds the forms that a sheet's cell may have.
func TestNotesReadWordsAsSheetsDo(t *testing.T) {
	got, entries := sessions(t, []read.Note{note(1, 1, 1, "instruction", "Fewest strokes"), note(2, 1, 1, "rate_target", "40 spm"),
		note(3, 1, 1, "lactate", "3,2 mmol/L"), note(4, 2, 2, "instruction", "quicker_rate")}, sheet("s", morning, 80, 80))
	if len(entries) > 0 {
		t.Errorf("entries %q", brief(entries))
	}
	for _, l := range got[0].Lengths {
		if l.Swim == 2 {
			if l.Tags.Instruction != "quicker-rate" {
				t.Errorf("instruction %q", l.Tags.Instruction)
			}
			continue
		}
		if l.Tags.Instruction != "fewest-strokes" || l.Tags.RateTargetSPM != 40 || l.Tags.LactateMMOL != 3.2 {
			t.Errorf("swim %d: %q, %v strokes/min, %v mmol/L", l.Swim, l.Tags.Instruction, l.Tags.RateTargetSPM, l.Tags.LactateMMOL)
		}
	}
}

func TestFreeTags(t *testing.T) {
	got, entries := sessions(t, []read.Note{note(1, 0, 0, "water_temp", "27"), note(2, 2, 3, " Lane", "4"), note(3, 8, 8, "lane", "5")},
		sheet("s", morning, 80, 80, 80))
	want := []FreeTag{{"lane", "4", 2, 3}, {"water_temp", "27", 0, 0}}
	if !slices.Equal(got[0].Free, want) {
		t.Errorf("free tags %v, want %v", got[0].Free, want)
	}
	if b := brief(entries); !slices.Equal(b, []string{" note 3+1 note-unmatched noted"}) {
		t.Errorf("entries %v", b)
	}
}

func TestNumberedNoteOnADayWithTwoSessions(t *testing.T) {
	got, entries := sessions(t, []read.Note{note(1, 1, 1, "kick", "none"), note(2, 0, 0, "breathing", "3")},
		sheet("s", morning, 80, 80), sheet("e", morning.Add(10*time.Hour), 90, 90))
	for _, s := range got {
		for _, l := range s.Lengths {
			if (l.Tags.Kick == "none") != (l.Swim == 1) || l.Tags.Breathing != 3 {
				t.Errorf("%s swim %d: %+v", s.ID, l.Swim, l.Tags)
			}
		}
	}
	if b := brief(entries); !slices.Equal(b, []string{" note 1+1 note-ambiguous noted"}) {
		t.Errorf("entries %v", b)
	}
}

func TestNotesOfNobody(t *testing.T) {
	got := NotesOfNobody([]read.Note{{Record: 1, Swimmer: "ada"}, {Record: 2, Swimmer: "zoe"}}, map[string]bool{"ada": true})
	if b := brief(got); !slices.Equal(b, []string{" note 2+1 note-unmatched noted"}) {
		t.Errorf("entries %v", b)
	}
}
