package run

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"runtime"
	"slices"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/publish"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/share"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// ReleaseOptions says how a set is released.
type ReleaseOptions struct {
	Label   string // what pseudonyms are made fresh by
	Licence string // in words or by its SPDX id; "" for none granted
}

// Released is what a release holds and hides.
type Released struct {
	Folder      string         `json:"folder"`
	Swimmers    int            `json:"swimmers"`
	Threshold   int            `json:"smallest_group"` // that was held to
	Minors      string         `json:"minors"`         // some, not-known or none: whether swimmers are under 18
	Smallest    int            `json:"smallest_left"`  // swimmers who share what is told of the rarest
	Quasi       []string       `json:"quasi_identifiers"`
	Hidden      map[string]int `json:"hidden"` // swimmers of whom a quasi-identifier is known and not told
	CellsHidden int            `json:"counts_hidden"`
	RowsLeftOut int            `json:"rows_left_out"` // of results behind which stand too few swimmers
	Tables      int            `json:"tables"`
}

// ErrDamaged says that a study's published tables are not what run.json says.
var ErrDamaged = errors.New("the study's tables are not what its run.json says: run it again")

// Release writes the set that may be passed on, whole or not at all, from a
// finished study's tables. share.ErrTooFew comes back where the study has fewer
// swimmers than the smallest group.
func Release(ctx context.Context, s *study.Study, folder string, o ReleaseOptions) (_ Released, err error) {
	from := s.Path(s.Output)
	whole, err := VerifyTables(from)
	if err != nil {
		return Released{}, err
	}
	if len(whole.Departures) > 0 {
		d := whole.Departures[0]
		return Released{}, fmt.Errorf("%w (%s: %s)", ErrDamaged, d.What, d.How)
	}
	record, err := ReadRecord(from)
	if err != nil {
		return Released{}, err
	}
	r := &releaser{study: s, from: from, options: o, record: record, out: Released{Folder: folder, Quasi: s.Privacy.QuasiIdentifiers, Hidden: map[string]int{}}}
	if err := r.disguise(); err != nil {
		return Released{}, err
	}
	stage, err := table.Begin(folder, marker)
	if err != nil {
		return Released{}, err
	}
	defer stage.Abort()
	r.w = &writer{stage: stage, tables: map[string][]tableFile{}, other: map[string]string{}, bytes: map[string]int64{}}
	for _, step := range []func() error{r.people, r.recordings, r.results, ctx.Err, r.describe, r.write} {
		if err := step(); err != nil {
			return Released{}, err
		}
	}
	return r.out, stage.Commit()
}

// releaser is one release on its way.
type releaser struct {
	study   *study.Study
	from    string
	options ReleaseOptions
	record  Record
	w       *writer
	out     Released

	swimmers []schemas.Swimmer
	sessions []schemas.Session
	d        *share.Disguise
}

func rowsOf[T any](r *releaser, name string) ([]T, error) {
	rows, err := table.ReadRows[T](filepath.Join(r.from, tablesFolder, table.TableFile(name)))
	if err != nil {
		return nil, fmt.Errorf("table %s: %w", name, err)
	}
	return rows, nil
}

// disguise finds the fresh names and ids, and what no text may hold.
func (r *releaser) disguise() (err error) {
	if r.swimmers, err = rowsOf[schemas.Swimmer](r, "swimmers"); err != nil {
		return err
	}
	if r.sessions, err = rowsOf[schemas.Session](r, "sessions"); err != nil {
		return err
	}
	key, err := identity.LoadKey(r.study.Path(r.study.Privacy.KeyFile))
	if err != nil {
		return fmt.Errorf("fresh pseudonyms: %w", err)
	}
	pseudonyms := make([]string, len(r.swimmers))
	for i, sw := range r.swimmers {
		pseudonyms[i] = sw.Swimmer
	}
	fresh, err := identity.ReleaseNames(key, r.options.Label, pseudonyms)
	if err != nil {
		return err
	}
	firstDay := ""
	ids := slices.Clone(pseudonyms)
	for _, session := range r.sessions {
		ids = append(ids, session.Session, session.FileID)
		if firstDay == "" || session.LocalDate < firstDay {
			firstDay = session.LocalDate
		}
	}
	names, squads, err := r.names()
	if err != nil {
		return err
	}
	guard, err := share.NewGuard(firstDay, names, squads, ids)
	if err != nil {
		return err
	}
	if _, err := guard.Text(r.study.Name); err != nil {
		return fmt.Errorf("the name of the study: %w; call it something else in the study file, and run again", err)
	}
	r.d = &share.Disguise{Swimmers: fresh, Sessions: map[string]string{}, Guard: guard}
	onDay := map[string]int{}
	for _, session := range r.sessions {
		day, err := guard.Day(session.LocalDate)
		if err != nil {
			return fmt.Errorf("session %s: %w", session.Session, err)
		}
		id := fmt.Sprintf("%s-day%d", fresh[session.Swimmer], day)
		onDay[id]++
		r.d.Sessions[session.Session] = fmt.Sprintf("%s-%d", id, onDay[id])
	}
	return nil
}

// names are all names and aliases that the study has seen: the private list of a
// run, and the roster; squads are the names of squads in it.
func (r *releaser) names() (names, squads []string, err error) {
	rows, err := readNames(r.study)
	if err != nil {
		return nil, nil, fmt.Errorf("the list of names, by which texts are searched for them: %w", err)
	}
	for _, row := range rows {
		names = append(names, row[1])
	}
	if r.study.Roster == "" {
		return names, nil, nil
	}
	data, err := readList(r.study, "roster", r.study.Roster)
	if errors.Is(err, fs.ErrNotExist) {
		return names, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	members, _, err := read.Roster(data)
	if err != nil {
		return nil, nil, fmt.Errorf("roster %s: %w", r.study.Roster, err)
	}
	for _, m := range members {
		names = append(append(names, m.Name), m.Aliases...)
		squads = append(squads, m.Squad)
	}
	return names, squads, nil
}

// describe writes what says to others what the set is.
func (r *releaser) describe() error {
	p := publish.Package{Study: r.study.Name, Version: r.record.Version, Pseudonym: true, Released: true, Licence: r.options.Licence, CostUnit: r.record.CostUnit}
	for _, d := range schemas.Released() {
		t, err := packageTable(d, r.w.tables[d.Name])
		if err != nil {
			return err
		}
		p.Tables = append(p.Tables, t)
	}
	r.out.Tables = len(p.Tables)
	data, err := publish.DataPackage(p)
	if err != nil {
		return err
	}
	return errors.Join(
		r.w.file(codebookFile, publish.Codebook(p)),
		r.w.file(citationFile, publish.Citation(p)),
		r.w.file(packageFile, data),
		r.w.file("README.md", publish.ReleaseNotes(p, r.notes())),
	)
}

func (r *releaser) notes() publish.Release {
	n := publish.Release{Swimmers: r.out.Swimmers, Threshold: r.out.Threshold, Smallest: r.out.Smallest, Minors: r.out.Minors,
		CountsHidden: r.out.CellsHidden, RowsLeftOut: r.out.RowsLeftOut}
	for _, q := range r.out.Quasi {
		n.Hidden = append(n.Hidden, publish.HiddenColumn{Name: q, Swimmers: r.out.Hidden[q]})
	}
	return n
}

// frozen is what run.json says of the frozen plan, as it may be released.
func (r *releaser) frozen() (*study.Frozen, error) {
	if r.record.Frozen == nil {
		return nil, nil
	}
	f := *r.record.Frozen
	f.Departures = slices.Clone(f.Departures)
	for i, text := range f.Departures {
		told, err := r.d.Guard.Text(text)
		if err != nil {
			return nil, fmt.Errorf("departures from the frozen plan: %w", err)
		}
		f.Departures[i] = told
	}
	return &f, nil
}

// write writes run.json, by which the set is verified: that of the release, which
// names no input.
func (r *releaser) write() error {
	for _, files := range r.w.tables {
		sortFiles(files)
	}
	frozen, err := r.frozen()
	if err != nil {
		return err
	}
	settings := string(r.study.ReleasedAs())
	sum := sha256.Sum256([]byte(settings))
	record := Record{
		Program: programName, Files: r.w.files(), Version: r.record.Version, Go: runtime.Version(), Platform: r.record.Platform,
		Study: r.study.Name, Seed: r.record.Seed, CostUnit: r.record.CostUnit, Settings: settings, Hash: hex.EncodeToString(sum[:]),
		Frozen: frozen, Inputs: []Input{}, Accounts: []publish.Account{}, HeartRateTau: r.record.HeartRateTau, Tables: r.w.tables, Other: r.w.other,
	}
	data, err := json.MarshalIndent(record, "", "  ")
	if err != nil {
		return fmt.Errorf("%s: %w", marker, err)
	}
	return r.w.stage.WriteFile(marker, append(data, '\n'))
}
