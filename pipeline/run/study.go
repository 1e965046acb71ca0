package run

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// Assess runs the study in memory and writes nothing.
func Assess(ctx context.Context, s *study.Study, o Options) (*Result, error) {
	var kept keeper
	r, src, err := compute(ctx, s, o, job{inRows: true}, &kept)
	if err != nil {
		return nil, err
	}
	r.Lengths, r.Lineage, r.Bouts = kept.rows.Lengths, kept.rows.Lineage, kept.boutRows
	r.Understood, err = src.understood(ctx, s, understoodRows)
	return r, err
}

// understoodRows is how many rows of a sheet are put into words.
const understoodRows = 3

// keeper is the sink that keeps the rows in memory, but for heart rates.
type keeper struct {
	rows     fitRows
	boutRows []schemas.Bout
}

func (k *keeper) measured(_ *bucket, m *measuredTables) error {
	k.rows.Lengths = append(k.rows.Lengths, m.rows.Lengths...)
	k.rows.Lineage = append(k.rows.Lineage, m.rows.Lineage...)
	return nil
}

func (k *keeper) answered(_ *bucket, a *boutTable) error {
	k.boutRows = append(k.boutRows, a.rows...)
	return nil
}

// Study runs the study and puts its result in place of the old one, whole or
// not at all. ErrNothing comes back, and the old result stays, when not one
// length of the inputs can be used. With Keep a result that nothing has changed
// since is left alone; what comes back then holds what a run tells, and not the
// ledger nor tables that it does not tell of.
func Study(ctx context.Context, s *study.Study, o Options) (*Result, error) {
	if err := checkOutput(s.Path(s.Output)); err != nil {
		return nil, err
	}
	if o.Keep {
		if r, err := kept(ctx, s, o); r != nil || err != nil {
			return r, err
		}
	}
	return runStudy(ctx, s, o, turn{})
}

// runStudy makes a result and puts it in place. Of a run that is dealt out it makes
// the last phase alone.
func runStudy(ctx context.Context, s *study.Study, o Options, t turn) (*Result, error) {
	tombstones, err := readTombstones(s)
	if err != nil {
		return nil, err
	}
	if len(tombstones) > 0 { // nothing is kept that may hold who was removed
		if err := dropCaches(o.Cache); err != nil {
			return nil, err
		}
		o.Cache = ""
	}
	note, err := readMadeFrom(s)
	if err != nil {
		return nil, err
	}
	before, err := surveyAll(ctx, s, o, note)
	if err != nil {
		return nil, err
	}
	stage, err := table.Begin(s.Path(s.Output), marker)
	if err != nil {
		return nil, err
	}
	defer stage.Abort()
	r, src, _, err := produce(ctx, s, o, job{known: madeFiles(before), turn: t}, stage)
	if err != nil {
		return r, err
	}
	if err := stage.Commit(); err != nil {
		return nil, err
	}
	if err := errors.Join(writePrivateMaps(s, src), writePrivatePages(ctx, s, r, o)); err != nil {
		return r, err
	}
	return r, noteMadeFrom(s, r, before)
}

// produce runs the study and writes its whole result into a stage. With
// ErrNothing comes the result that says why.
func produce(ctx context.Context, s *study.Study, o Options, j job, stage *table.Stage) (*Result, *Sources, Record, error) {
	w := &writer{stage: stage, tables: map[string][]tableFile{}, other: map[string]string{}, bytes: map[string]int64{}}
	large, err := w.large()
	if err != nil {
		return nil, nil, Record{}, err
	}
	r, src, err := compute(ctx, s, o, j, large)
	if err != nil {
		return nil, nil, Record{}, errors.Join(err, large.abandon())
	}
	if err := large.close(ctx); err != nil {
		return nil, nil, Record{}, err
	}
	if r.InUse == 0 {
		return r, src, Record{}, ErrNothing
	}
	if err := w.all(ctx, r, o); err != nil {
		return nil, nil, Record{}, err
	}
	if err := pages(ctx, r, s, nil, o, w.file); err != nil {
		return nil, nil, Record{}, err
	}
	if err := w.describe(r, s); err != nil {
		return nil, nil, Record{}, err
	}
	record, err := w.record(r, s)
	if err != nil {
		return nil, nil, Record{}, err
	}
	return r, src, record, ctx.Err()
}

// writer writes a result into its stage.
type writer struct {
	stage *table.Stage

	mu     sync.Mutex
	tables map[string][]tableFile
	other  map[string]string // SHA-256 of the files that are no tables, by path
	bytes  map[string]int64  // their sizes
}

// tableFile is one file of a table as run.json records it.
type tableFile struct {
	Path string `json:"path"`
	table.Digest
}

func stageTable[T any](w *writer, name, file string, rows []T) error {
	d, err := description(name)
	if err != nil {
		return err
	}
	path := tablesFolder + "/" + file
	digest, err := table.StageTable(w.stage, path, d, rows)
	if err != nil {
		return fmt.Errorf("table %s: %w", name, err)
	}
	w.wrote(name, path, digest)
	return nil
}

// wrote notes a file of a table.
func (w *writer) wrote(name, path string, digest table.Digest) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.tables[name] = append(w.tables[name], tableFile{Path: path, Digest: digest})
}

// description finds a table's description by name.
func description(name string) (schemas.Description, error) {
	for _, d := range schemas.Tables() {
		if d.Name == name {
			return d, nil
		}
	}
	return schemas.Description{}, fmt.Errorf("there is no table %q", name)
}

// all writes the tables of which all rows are in memory.
func (w *writer) all(ctx context.Context, r *Result, o Options) error {
	one := func(name string, write func(name, file string) error) func() error {
		return func() error { return write(name, table.TableFile(name)) }
	}
	tables := []func() error{
		one("swimmers", func(n, f string) error { return stageTable(w, n, f, r.Swimmers) }),
		one("sessions", func(n, f string) error { return stageTable(w, n, f, r.Sessions) }),
		one("ledger", func(n, f string) error { return stageTable(w, n, f, r.Ledger) }),
		one("coefficients", func(n, f string) error { return stageTable(w, n, f, r.Answers.Coefficients) }),
		one("fits", func(n, f string) error { return stageTable(w, n, f, r.Answers.Fits) }),
		one("score_by_swimmer", func(n, f string) error { return stageTable(w, n, f, r.Answers.BySwimmer) }),
		one("score_overall", func(n, f string) error { return stageTable(w, n, f, r.Answers.Overall) }),
		one("score_by_source", func(n, f string) error { return stageTable(w, n, f, r.Answers.BySource) }),
		one("mixed_effects", func(n, f string) error { return stageTable(w, n, f, r.Answers.Mixed) }),
		one("sensitivity", func(n, f string) error { return stageTable(w, n, f, r.Answers.Sensitivity) }),
		one("sensitivity_summary", func(n, f string) error { return stageTable(w, n, f, r.Answers.SensitivitySummary) }),
		one("advice_by_swimmer", func(n, f string) error { return stageTable(w, n, f, r.Answers.Advice) }),
		one("advice_overall", func(n, f string) error { return stageTable(w, n, f, r.Answers.AdviceOverall) }),
		one("contrasts", func(n, f string) error { return stageTable(w, n, f, r.Answers.Contrasts) }),
		one("economical_rate", func(n, f string) error { return stageTable(w, n, f, r.Answers.Economical) }),
		one("confounding", func(n, f string) error { return stageTable(w, n, f, r.Answers.Confounding) }),
		one("changes", func(n, f string) error { return stageTable(w, n, f, r.Answers.Changes) }),
		one("heart_cost", func(n, f string) error { return stageTable(w, n, f, r.Answers.HeartCosts) }),
		one("reliability", func(n, f string) error { return stageTable(w, n, f, r.Answers.Reliability) }),
		one("cost_by_rate", func(n, f string) error { return stageTable(w, n, f, r.Answers.ByRate) }),
		one("rate_length_speed", func(n, f string) error { return stageTable(w, n, f, r.Answers.RateLength) }),
		one("rate_length_curve", func(n, f string) error { return stageTable(w, n, f, r.Answers.RateCurves) }),
		one("critical_speed", func(n, f string) error { return stageTable(w, n, f, r.Answers.Critical) }),
		one("findings", func(n, f string) error { return stageTable(w, n, f, r.Findings) }),
	}
	return each(ctx, len(tables), o, ReducePhase, func(i int) error { return tables[i]() })
}
