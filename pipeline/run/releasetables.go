package run

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"lengthwise/pipeline/share"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// people writes the tables in which rows are people, sessions and bouts.
func (r *releaser) people() error {
	year := 0
	for _, session := range r.sessions {
		var y int
		if _, err := fmt.Sscanf(session.LocalDate, "%4d", &y); err != nil {
			return fmt.Errorf("session %s: its day %q: %w", session.Session, session.LocalDate, err)
		}
		year = max(year, y)
	}
	people := make([]share.Person, len(r.swimmers))
	r.out.Minors = "none"
	letters := r.squadLetters()
	for i, sw := range r.swimmers {
		p := share.Person{share.Sex: pointed(sw.Sex), share.Squad: letters[pointed(sw.Squad)]}
		if sw.BirthYear != nil {
			p[share.AgeBand] = share.Band(int(*sw.BirthYear), year)
		}
		switch {
		case p[share.AgeBand] == share.Minor:
			r.out.Minors = "some"
		case p[share.AgeBand] == "" && r.out.Minors == "none":
			r.out.Minors = "not-known"
		}
		people[i] = p
	}
	r.out.Swimmers = len(people)
	r.out.Threshold = share.Threshold(r.study.Privacy.SmallestGroup, r.out.Minors != "none")
	r.d.Smallest = r.out.Threshold
	shown, smallest, err := share.Hide(people, r.out.Quasi, r.out.Threshold)
	if err != nil {
		return fmt.Errorf("%w (privacy: smallest_group is %d%s)", err, r.study.Privacy.SmallestGroup, raisedText(r.out.Minors))
	}
	r.out.Smallest = smallest
	rows := make([]schemas.ReleasedSwimmer, len(r.swimmers))
	for i, sw := range r.swimmers {
		for _, q := range r.out.Quasi {
			if _, told := shown[i][q]; !told && people[i][q] != "" {
				r.out.Hidden[q]++
			}
		}
		rows[i] = schemas.ReleasedSwimmer{Swimmer: r.d.Swimmers[sw.Swimmer], Squad: text(shown[i][share.Squad]), Sex: text(shown[i][share.Sex]),
			AgeBand: text(shown[i][share.AgeBand]), HRTauS: sw.HRTauS, HRTauLnSE: sw.HRTauLnSE,
			Sessions: sw.Sessions, Bouts: sw.Bouts, UsableBouts: sw.UsableBouts}
	}
	slices.SortFunc(rows, func(a, b schemas.ReleasedSwimmer) int { return cmp.Compare(a.Swimmer, b.Swimmer) })
	var groups []schemas.ReleasedGroup
	for _, c := range share.Counts(people, r.out.Quasi, r.out.Threshold) {
		row := schemas.ReleasedGroup{Variable: c.Variable, Value: c.Value}
		if c.Hidden {
			r.out.CellsHidden++
		} else {
			n := int32(c.N)
			row.Swimmers = &n
		}
		groups = append(groups, row)
	}
	return errors.Join(stageReleased(r, "swimmers", rows), stageReleased(r, "groups", groups))
}

func raisedText(minors string) string {
	switch minors {
	case "some":
		return ", half as many again as swimmers are under 18"
	case "not-known":
		return ", half as many again as the roster does not say of all swimmers that they are 18 or older"
	}
	return ""
}

// squadLetters gives squads letters, in order of the first of their fresh names.
func (r *releaser) squadLetters() map[string]string {
	first := map[string]string{}
	for _, sw := range r.swimmers {
		squad, name := pointed(sw.Squad), r.d.Swimmers[sw.Swimmer]
		if squad != "" && (first[squad] == "" || name < first[squad]) {
			first[squad] = name
		}
	}
	squads := make([]string, 0, len(first))
	for squad := range first {
		squads = append(squads, squad)
	}
	slices.SortFunc(squads, func(a, b string) int { return cmp.Compare(first[a], first[b]) })
	letters := map[string]string{}
	for i, squad := range squads {
		letters[squad] = fmt.Sprintf("squad-%d", i+1)
	}
	return letters
}

func pointed(text *string) string {
	if text == nil {
		return ""
	}
	return *text
}

// recordings writes sessions, bouts and heart costs, and counts the ledger.
func (r *releaser) recordings() error {
	day := map[string]int32{}
	sessions := make([]schemas.ReleasedSession, len(r.sessions))
	for i, s := range r.sessions {
		at, err := r.d.Guard.Day(s.LocalDate)
		if err != nil {
			return err
		}
		day[s.Session] = at
		sessions[i] = schemas.ReleasedSession{Swimmer: s.Swimmer, Session: s.Session, StudyDay: at, Kind: s.Kind, PoolM: s.PoolM,
			Lengths: s.Lengths, Bouts: s.Bouts, UsableBouts: s.UsableBouts, DesignedBouts: s.DesignedBouts, HRSource: s.HRSource}
	}
	all, err := rowsOf[schemas.Bout](r, "bouts")
	if err != nil {
		return err
	}
	bouts := make([]schemas.ReleasedBout, len(all))
	for i := range all {
		bouts[i] = releasedBout(&all[i])
	}
	paid, err := rowsOf[schemas.HeartCost](r, "heart_cost")
	if err != nil {
		return err
	}
	costs := make([]schemas.ReleasedHeartCost, len(paid))
	for i, c := range paid {
		costs[i] = schemas.ReleasedHeartCost{Swimmer: c.Swimmer, Stroke: c.Stroke, Session: c.Session, StudyDay: day[c.Session], ReferencePace: c.ReferencePace,
			Cost: c.Cost, UsualCost: c.UsualCost, HeartCost: c.HeartCost, StdError: c.StdError, Bouts: c.Bouts, Changes: c.Changes}
	}
	ledger, err := rowsOf[schemas.LedgerEntry](r, "ledger")
	if err != nil {
		return err
	}
	return errors.Join(released(r, "sessions", sessions), released(r, "bouts", bouts), released(r, "heart_cost", costs),
		stageReleased(r, "left_out", share.LeftOut(ledger)))
}

func releasedBout(b *schemas.Bout) schemas.ReleasedBout {
	return schemas.ReleasedBout{
		Swimmer: b.Swimmer, Session: b.Session, Bout: b.Bout, Swim: b.Swim, Block: b.Block, Stroke: b.Stroke, PoolM: b.PoolM,
		Lengths: b.Lengths, RepairedLengths: b.RepairedLengths, DistanceM: b.DistanceM, DurationS: b.DurationS, RestBeforeS: b.RestBeforeS,
		MinutesIn: b.MinutesIn, SpeedMPS: b.SpeedMPS, PaceSPer100M: b.PaceSPer100M, StrokeCountBasis: b.StrokeCountBasis,
		StrokeRateSPM: b.StrokeRateSPM, DistancePerStrokeM: b.DistancePerStrokeM, Strokes25: b.Strokes25, Score25: b.Score25,
		ScoreRecorded25: b.ScoreRecorded25, StrokeIndex: b.StrokeIndex, HRSteadyBPM: b.HRSteadyBPM, HRMethod: b.HRMethod, HRSource: b.HRSource,
		HRSteadySE: b.HRSteadySE, HRByLnTau: b.HRByLnTau, Cost: b.Cost, CostStratum: b.CostStratum, Instruction: b.Instruction,
		RateTarget: b.RateTarget, Kick: b.Kick, Equipment: b.Equipment, Designed: b.Designed, Usable: b.Usable,
	}
}

// released writes rows under their fresh names.
func released[T any](r *releaser, name string, rows []T) error {
	before := r.d.LeftOut
	rows, err := share.Rows(r.d, name, rows)
	if err != nil {
		return err
	}
	r.out.RowsLeftOut += r.d.LeftOut - before
	return stageReleased(r, name, rows)
}

func stageReleased[T any](r *releaser, name string, rows []T) error {
	at := slices.IndexFunc(schemas.Released(), func(d schemas.Description) bool { return d.Name == name })
	if at < 0 {
		return fmt.Errorf("there is no released table %q", name)
	}
	path := tablesFolder + "/" + table.TableFile(name)
	digest, err := table.StageTable(r.w.stage, path, schemas.Released()[at], rows)
	if err != nil {
		return fmt.Errorf("table %s: %w", name, err)
	}
	r.w.wrote(name, path, digest)
	return nil
}

// pass writes a result table that keeps its columns; through, where it is not nil,
// comes first.
func pass[T any](r *releaser, name string, through func([]T) []T) error {
	rows, err := rowsOf[T](r, name)
	if err != nil {
		return err
	}
	if through != nil {
		rows = through(rows)
	}
	return released(r, name, rows)
}

// results writes the tables of answers.
func (r *releaser) results() error {
	return errors.Join(
		pass[schemas.Coefficient](r, "coefficients", nil),
		pass[schemas.Fit](r, "fits", nil),
		pass[schemas.ScoreBySwimmer](r, "score_by_swimmer", nil),
		pass[schemas.ScoreOverall](r, "score_overall", nil),
		pass[schemas.ScoreBySource](r, "score_by_source", nil),
		pass[schemas.MixedEffect](r, "mixed_effects", nil),
		pass[schemas.Sensitivity](r, "sensitivity", nil),
		pass[schemas.SensitivitySummary](r, "sensitivity_summary", nil),
		pass[schemas.AdviceBySwimmer](r, "advice_by_swimmer", nil),
		pass[schemas.AdviceOverall](r, "advice_overall", nil),
		pass[schemas.Contrast](r, "contrasts", nil),
		pass[schemas.Confounding](r, "confounding", nil),
		pass[schemas.Change](r, "changes", nil),
		pass[schemas.Reliability](r, "reliability", nil),
		pass[schemas.CostByRate](r, "cost_by_rate", nil),
		pass[schemas.RateLengthSpeed](r, "rate_length_speed", nil),
		pass[schemas.RateLengthCurve](r, "rate_length_curve", nil),
		pass[schemas.CriticalSpeed](r, "critical_speed", nil),
		pass(r, "findings", func(rows []schemas.Finding) []schemas.Finding { return share.Findings(rows, r.d.Smallest) }),
	)
}
