package run

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// PagesMade says which pages were made.
type PagesMade struct {
	Public   string `json:"pages"`         // the squad's page by pseudonym
	Private  string `json:"private_pages"` // the same with names
	Swimmers int    `json:"swimmers"`
	Changed  int    `json:"changed"` // public pages whose bytes are others than before
}

// ErrOtherSettings says that the study file is not the one that a result was made
// with.
var ErrOtherSettings = errors.New("the study file is not the one that the result was made with: run the study again")

// Pages makes the pages of a finished study anew from its tables, run.json and
// private list of names. By the version that ran the study they come out byte for
// byte the same; by another the public ones are put in place of the old, whole or
// not at all, with their hashes in run.json.
func Pages(ctx context.Context, s *study.Study, o Options) (PagesMade, error) {
	out := s.Path(s.Output)
	record, err := ReadRecord(out)
	if err != nil {
		return PagesMade{}, err
	}
	r, err := recalled(s, record)
	if err != nil {
		return PagesMade{}, err
	}
	if publicSettings(s, r) != record.Settings {
		return PagesMade{}, ErrOtherSettings
	}
	made := PagesMade{Public: filepath.Join(out, pageFile), Private: filepath.Join(s.Folder, study.PrivateFolder, pageFile), Swimmers: len(r.Swimmers)}
	var mu sync.Mutex
	fresh := map[string][]byte{}
	err = pages(ctx, r, s, nil, o, func(path string, html []byte) error {
		mu.Lock()
		defer mu.Unlock()
		fresh[path] = html
		return nil
	})
	if err != nil {
		return PagesMade{}, err
	}
	for path, html := range fresh {
		if sum := sha256.Sum256(html); record.Other[path] != hex.EncodeToString(sum[:]) {
			made.Changed++
		}
	}
	if made.Changed > 0 {
		if err := replacePages(ctx, out, record, fresh); err != nil {
			return PagesMade{}, err
		}
	}
	return made, writePrivatePages(ctx, s, r, o)
}

// recalled is a result as its tables hold it, as far as pages need it.
func recalled(s *study.Study, record Record) (*Result, error) {
	folder := filepath.Join(s.Path(s.Output), tablesFolder)
	r := &Result{Accounts: record.Accounts, BySwimmer: map[string]findings.BoutCounts{}}
	var bouts []schemas.Bout
	err := errors.Join(
		recall(folder, "swimmers", &r.Swimmers), recall(folder, "ledger", &r.Ledger), recall(folder, "findings", &r.Findings), recall(folder, "bouts", &bouts),
		recall(folder, "score_by_swimmer", &r.Answers.BySwimmer), recall(folder, "score_overall", &r.Answers.Overall),
		recall(folder, "cost_by_rate", &r.Answers.ByRate), recall(folder, "sensitivity", &r.Answers.Sensitivity),
		recall(folder, "economical_rate", &r.Answers.Economical), recall(folder, "heart_cost", &r.Answers.HeartCosts),
		recall(folder, "reliability", &r.Answers.Reliability),
	)
	if err != nil {
		return nil, err
	}
	own := map[string][]schemas.Bout{}
	for _, b := range bouts {
		own[b.Swimmer] = append(own[b.Swimmer], b)
	}
	for _, sw := range r.Swimmers {
		counts := findings.CountBouts(own[sw.Swimmer])
		r.BySwimmer[sw.Swimmer] = counts
		r.Counts.Add(counts)
	}
	entries := make([]read.Entry, len(r.Ledger))
	for i, row := range r.Ledger {
		entries[i] = read.Entry{Rule: row.Rule, Action: read.Action(row.Action), Records: row.Records, Record: row.Record, Kind: read.RecordKind(row.Kind)}
	}
	r.Rules = countRules(entries, s.Screen)
	r.Names, err = recalledNames(s)
	return r, err
}

func recall[T any](folder, name string, into *[]T) (err error) {
	if *into, err = table.ReadRows[T](filepath.Join(folder, table.TableFile(name))); err != nil {
		return fmt.Errorf("table %s: %w", name, err)
	}
	return nil
}

// recalledNames leads from pseudonyms to names, by the list that the run wrote and
// the roster.
func recalledNames(s *study.Study) (map[string]string, error) {
	rows, err := readNames(s)
	if err != nil {
		return nil, fmt.Errorf("names: %w", err)
	}
	src := &Sources{}
	for _, row := range rows {
		if row[0] != "" {
			src.Seen = append(src.Seen, identity.Seen{Swimmer: row[0], Name: row[1]})
		}
	}
	members, err := src.roster(s)
	if err != nil {
		return nil, err
	}
	var key []byte
	if !s.Privacy.AsGiven {
		if key, err = identity.LoadKey(s.Path(s.Privacy.KeyFile)); err != nil {
			return nil, err
		}
	}
	if src.Registry, err = identity.New(s.Privacy, key, members, nil); err != nil {
		return nil, err
	}
	if err := src.forget(s, key); err != nil {
		return nil, err
	}
	return src.names(), nil
}

// replacePages puts a result with other pages in its own place: all other files are
// copied as they are, and run.json gets the pages' hashes.
func replacePages(ctx context.Context, out string, record Record, fresh map[string][]byte) error {
	stage, err := table.Begin(out, marker)
	if err != nil {
		return err
	}
	defer stage.Abort()
	record.Other = maps.Clone(record.Other)
	var files []string
	for _, name := range record.Files {
		if name == marker || strings.HasPrefix(name, pagesFolder+"/") {
			continue
		}
		files = append(files, name)
		if err := copyInto(stage, out, name); err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	for name := range record.Other {
		if strings.HasPrefix(name, pagesFolder+"/") {
			delete(record.Other, name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(fresh)) {
		sum := sha256.Sum256(fresh[name])
		record.Other[name] = hex.EncodeToString(sum[:])
		files = append(files, name)
		if err := stage.WriteFile(name, fresh[name]); err != nil {
			return err
		}
	}
	record.Files = append(files, marker)
	slices.Sort(record.Files)
	data, err := json.MarshalIndent(record, "", "  ")
	if err != nil {
		return fmt.Errorf("%s: %w", marker, err)
	}
	if err := stage.WriteFile(marker, append(data, '\n')); err != nil {
		return err
	}
	return stage.Commit()
}

func copyInto(stage *table.Stage, folder, name string) error {
	from, err := os.Open(filepath.Join(folder, filepath.FromSlash(name)))
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w: %s is not there", ErrDamaged, name)
	}
	if err != nil {
		return err
	}
	defer from.Close()
	to, err := stage.Create(name)
	if err != nil {
		return err
	}
	_, err = io.Copy(to, from)
	return errors.Join(err, to.Close())
}
