package study

import (
	"fmt"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// at adds a problem at a setting's line, or at that of the setting around it.
func (d *decoder) at(key, format string, args ...any) {
	line := 0
	for k := key; k != ""; {
		if found, ok := d.lines[k]; ok {
			line = found
			break
		}
		cut := strings.LastIndexAny(k, ".[")
		if cut < 0 {
			break
		}
		k = k[:cut]
	}
	d.problems.add(line, key, format, args...)
}

// failed reports whether a setting or one inside it already has a problem.
func (d *decoder) failed(key string) bool {
	return slices.ContainsFunc(d.problems.List, func(p Problem) bool {
		return p.Key == key || strings.HasPrefix(p.Key, key+".") || strings.HasPrefix(p.Key, key+"[")
	})
}

// check looks at what one setting alone cannot show.
func (d *decoder) check(s *Study) {
	d.checkInputs(s)
	d.checkScreen(s)
	d.checkCost(s)
	d.checkAnalysis(s)
	d.checkChanges(s)
	for _, file := range []struct{ key, path string }{{"roster", s.Roster}, {"assign", s.Assign}, {"notes", s.Notes}} {
		if file.path != "" && strings.ContainsAny(file.path, "*?{}") {
			d.at(file.key, "names one file: patterns are for inputs")
		}
	}
}

func (d *decoder) checkInputs(s *Study) {
	if len(s.Inputs) == 0 && !d.failed("inputs") {
		d.at("inputs", "is missing: a study needs at least one, such as {path: \"inbox/{swimmer}/*.fit\", kind: activity}")
	}
	for i, in := range s.Inputs {
		key := fmt.Sprintf("inputs[%d]", i+1)
		if in.Pattern == "" && !d.failed(key+".path") {
			d.at(key, "path is missing")
		} else if err := checkPattern(in.Pattern); in.Pattern != "" && err != nil {
			d.at(key+".path", "%v", err)
		}
		if in.Kind == "" {
			if !d.failed(key + ".kind") {
				d.at(key, "kind is missing: activity, sheet or heart-rate")
			}
			continue
		}
		if in.Kind == HeartRate && in.StrokeCount != UnknownBasis {
			d.at(key+".stroke_count", "a heart-rate log counts no strokes; take it out")
		}
		if in.Kind == HeartRate && in.PoolM != 0 {
			d.at(key+".pool", "a heart-rate log has no pool; take it out")
		}
		if in.Kind == Activity && in.Dates != AnyOrder {
			d.at(key+".dates", "is for sheets and logs; take it out")
		}
		if in.Kind != Sheet {
			for _, setting := range []struct {
				name  string
				given bool
			}{{"strokes", in.Strokes != ""}, {"hr_count", in.HRCount != 0}, {"hr_delay", in.HRDelay != 0}} {
				if setting.given {
					d.at(key+"."+setting.name, "is for lane sheets; take it out")
				}
			}
		}
		d.checkColumns(in, key+".columns")
	}
}

func (d *decoder) checkColumns(in Input, key string) {
	known := ColumnNames(in.Kind)
	names := make([]string, 0, len(in.Columns))
	for name := range in.Columns {
		names = append(names, name)
	}
	sort.Strings(names)
	taken := map[string]string{}
	for _, name := range names {
		header := strings.ToLower(strings.TrimSpace(in.Columns[name]))
		switch {
		case known == nil:
			d.at(key+"."+name, "an activity file has no columns; take it out")
		case !slices.Contains(known, name):
			d.at(key+"."+name, "unknown column; %s", hint(name, known))
		case header != "" && taken[header] != "":
			d.at(key+"."+name, "header %s already stands for %s", shown(header), taken[header])
		}
		taken[header] = name
	}
}

func (d *decoder) checkScreen(s *Study) {
	c := s.Screen
	for _, pair := range []struct {
		low, high       string
		lowest, highest float64
	}{
		{"slowest_mps", "fastest_mps", c.SlowestMPS, c.FastestMPS},
		{"lowest_rate_spm", "highest_rate_spm", c.LowestRateSPM, c.HighestRateSPM},
		{"lowest_hr_bpm", "highest_hr_bpm", c.LowestHRBPM, c.HighestHRBPM},
		{"missed_turn_low", "missed_turn_high", c.MissedTurnLow, c.MissedTurnHigh},
		{"count_low", "count_high", c.CountLow, c.CountHigh},
		{"stroke_index_low", "stroke_index_high", c.StrokeIndexLow, c.StrokeIndexHigh},
	} {
		if pair.lowest >= pair.highest {
			key := "screen." + pair.low
			if _, given := d.lines[key]; !given {
				key = "screen." + pair.high
			}
			d.at(key, "%s (%g) must be below %s (%g)", pair.low, pair.lowest, pair.high, pair.highest)
		}
	}
}

func (d *decoder) checkCost(s *Study) {
	switch s.Cost.Measure {
	case "hr-reserve", "net-beats":
		if s.Roster == "" && !d.failed("roster") {
			columns := "hr_rest"
			if s.Cost.Measure == "hr-reserve" {
				columns = "hr_rest and hr_max"
			}
			d.at("cost.measure", "%s needs a roster with %s: add roster: roster.csv", s.Cost.Measure, columns)
		}
	}
}

func (d *decoder) checkAnalysis(s *Study) {
	if _, given := d.lines["analysis.smallest_effect"]; !given && s.Cost.Measure != "bpm" && !d.failed("analysis.smallest_effect") {
		d.at("analysis", "smallest_effect is missing: with cost %s write the smallest effect that matters, in %s per 10 %% of stroke rate", s.Cost.Measure, s.Cost.Unit())
	}
	a := s.Analysis
	if len(a.Strokes) == 0 && !d.failed("analysis.strokes") {
		d.at("analysis.strokes", "is empty: name at least one stroke")
	}
	for i, stroke := range a.Strokes {
		if slices.Contains(a.Strokes[:i], stroke) {
			d.at("analysis.strokes", "%s stands twice", stroke)
		}
	}
	if a.ReferencePace != 0 && (a.ReferencePace < 100/s.Screen.FastestMPS || a.ReferencePace > 100/s.Screen.SlowestMPS) {
		d.at("analysis.reference_pace", "%g s for 100 m lies outside the speeds that the screen lets pass (%g to %g m/s)",
			a.ReferencePace, s.Screen.SlowestMPS, s.Screen.FastestMPS)
	}
	if a.MinBouts < a.MinSessions {
		d.at("analysis.min_bouts", "min_bouts (%d) must be at least min_sessions (%d)", a.MinBouts, a.MinSessions)
	}
}

// checkOutput refuses an output folder whose replacement would take the
// study's own files with it.
func (s *Study) checkOutput() error {
	out := filepath.FromSlash(s.Output)
	if !filepath.IsAbs(out) {
		out = filepath.Join(s.Folder, out)
	}
	rel, err := filepath.Rel(out, s.Folder)
	if err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return fmt.Errorf("would replace the study's own folder: write a folder of its own, such as out")
	}
	private := filepath.Join(s.Folder, PrivateFolder)
	if rel, err := filepath.Rel(private, out); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return fmt.Errorf("%s holds what must not be shared: write another folder, such as out", PrivateFolder)
	}
	for _, own := range []string{s.Roster, s.Assign, s.Notes, s.Privacy.KeyFile} {
		if own == "" {
			continue
		}
		if !filepath.IsAbs(own) {
			own = filepath.Join(s.Folder, filepath.FromSlash(own))
		}
		if rel, err := filepath.Rel(out, own); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			return fmt.Errorf("the folder holds one of the study's own files, which a run would replace")
		}
	}
	for _, in := range s.Inputs {
		first, _, _ := strings.Cut(cleanPath(in.Pattern), "/")
		if norm.NFC.String(first) == norm.NFC.String(filepath.ToSlash(s.Output)) {
			return fmt.Errorf("input %s would read what a run writes: write another output folder", in.Pattern)
		}
	}
	return nil
}

// CheckOff reports, as *Problems, the rules in screen.off that are not among
// the known ones, which live with the screen.
func (s *Study) CheckOff(known []string) error {
	problems := &Problems{File: s.File}
	off := make([]string, 0, len(s.Screen.Off))
	for rule, is := range s.Screen.Off {
		if is {
			off = append(off, rule)
		}
	}
	sort.Strings(off)
	for _, rule := range off {
		if !slices.Contains(known, rule) {
			problems.add(s.offLines[rule], "screen.off", "unknown rule %s; %s", shown(rule), hint(rule, known))
		}
	}
	return problems.orNil()
}
