package run

import (
	"context"
	"errors"
	"path/filepath"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/publish"
	"lengthwise/pipeline/study"
)

// told is what a run tells beside its tables. It holds names and paths.
type told struct {
	InUse     int                            `json:"lengths_in_use"`
	HeartRate int64                          `json:"heart_rate_samples"`
	Counts    findings.BoutCounts            `json:"bouts"`
	BySwimmer map[string]findings.BoutCounts `json:"bouts_by_swimmer"`
	Rules     []publish.LedgerCount          `json:"rules"`
	Unmatched []study.Unmatched              `json:"unmatched"`
	NoOwner   []NoOwner                      `json:"no_owner"`
	Attention Attention                      `json:"attention"`
	Forgotten []string                       `json:"files_of_forgotten"`
}

func (r *Result) told() told {
	return told{r.InUse, r.HeartRate, r.Counts, r.BySwimmer, r.Rules, r.Unmatched, r.NoOwner, r.Attention, r.ForgottenFiles}
}

// kept is the result that stands, as far as a run tells of it, when nothing has
// changed since it was made; nil when something has.
func kept(ctx context.Context, s *study.Study, o Options) (*Result, error) {
	c, note, err := changes(ctx, s, o)
	if err != nil || !c.Nothing() {
		return nil, err
	}
	record, err := ReadRecord(s.Path(s.Output))
	if err != nil {
		return nil, err
	}
	r := &Result{Kept: true, InUse: note.Told.InUse, HeartRate: note.Told.HeartRate, Counts: note.Told.Counts, BySwimmer: note.Told.BySwimmer,
		Rules: note.Told.Rules, Unmatched: note.Told.Unmatched, NoOwner: note.Told.NoOwner, Attention: note.Told.Attention,
		ForgottenFiles: note.Told.Forgotten,
		Accounts:       record.Accounts, Inputs: record.Inputs, HeartRateTau: record.HeartRateTau}
	folder := filepath.Join(s.Path(s.Output), tablesFolder)
	a := &r.Answers
	err = errors.Join(
		recall(folder, "swimmers", &r.Swimmers), recall(folder, "sessions", &r.Sessions), recall(folder, "findings", &r.Findings),
		recall(folder, "fits", &a.Fits), recall(folder, "score_by_swimmer", &a.BySwimmer), recall(folder, "score_overall", &a.Overall),
		recall(folder, "score_by_source", &a.BySource), recall(folder, "mixed_effects", &a.Mixed), recall(folder, "sensitivity_summary", &a.SensitivitySummary),
		recall(folder, "advice_overall", &a.AdviceOverall), recall(folder, "contrasts", &a.Contrasts), recall(folder, "economical_rate", &a.Economical),
		recall(folder, "confounding", &a.Confounding), recall(folder, "changes", &a.Changes), recall(folder, "reliability", &a.Reliability),
		recall(folder, "cost_by_rate", &a.ByRate), recall(folder, "rate_length_speed", &a.RateLength), recall(folder, "critical_speed", &a.Critical),
	)
	if err != nil {
		return nil, err
	}
	if r.Frozen, err = s.CheckFrozen(); err != nil {
		return nil, err
	}
	if r.Names, err = recalledNames(s); err != nil {
		return nil, err
	}
	r.Lacks = findings.Lacks(s.Cost, r.Swimmers, func(swimmer string) findings.BoutCounts { return r.BySwimmer[swimmer] })
	if c.Compare > 0 { // next time their stamps settle it
		err = note.write(s)
	}
	return r, err
}
