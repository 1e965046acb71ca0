package run

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// Tolerance is how far a number recomputed on another platform or by another
// version may lie from the published one: absolutely below one, relatively
// above it.
const Tolerance = 1e-9

// Verification is what a check of a finished study found.
type Verification struct {
	Recomputed bool        `json:"recomputed"`  // the study was run again; false when the published set alone was checked
	SameMaker  bool        `json:"same_maker"`  // version, Go and platform are the published ones, so that bytes must agree
	Files      int         `json:"files"`       // of the published set
	Rows       int64       `json:"rows"`        // of its tables
	Departures []Departure `json:"departures"`  // in the order of the data's way; empty when all agrees
	Inputs     int         `json:"input_files"` // of the study, when recomputed
}

// Departure names one thing that is not as published.
type Departure struct {
	Stage string `json:"stage"` // where in the data's way
	What  string `json:"what"`  // the table, file or setting
	How   string `json:"how"`
}

// ErrNoResult says that a folder holds no finished study.
var ErrNoResult = errors.New("holds no finished study")

// ReadRecord reads the run.json of a result.
func ReadRecord(folder string) (Record, error) {
	var record Record
	data, err := os.ReadFile(filepath.Join(folder, marker))
	if errors.Is(err, fs.ErrNotExist) {
		return record, fmt.Errorf("%s %w: there is no %s in it", folder, ErrNoResult, marker)
	}
	if err != nil {
		return record, err
	}
	if err := json.Unmarshal(data, &record); err != nil {
		return record, fmt.Errorf("%s: %w", filepath.Join(folder, marker), err)
	}
	if record.Program != programName {
		return record, fmt.Errorf("%s %w: its %s is of %q", folder, ErrNoResult, marker, record.Program)
	}
	return record, nil
}

// VerifyTables checks a published set against its own run.json, without key
// or inputs: every file is there and nothing else, and every table, column by
// column, and every other file holds what was published.
func VerifyTables(folder string) (Verification, error) {
	record, err := ReadRecord(folder)
	if err != nil {
		return Verification{}, err
	}
	v := Verification{Files: len(record.Files)}
	if sum := sha256.Sum256([]byte(record.Settings)); hex.EncodeToString(sum[:]) != record.Hash {
		v.depart("settings", marker, "the settings do not have the hash that stands beside them")
	}
	present, err := filesIn(folder)
	if err != nil {
		return v, err
	}
	listed := map[string]bool{}
	for _, name := range record.Files {
		listed[name] = true
		if !present[name] {
			v.depart("files", name, "is missing")
		}
	}
	for _, name := range slices.Sorted(maps.Keys(present)) {
		if !listed[name] && name != EvidencePack {
			v.depart("files", name, "is not part of the published set")
		}
	}
	hashed := map[string]bool{marker: true}
	for name := range record.Other {
		hashed[name] = true
	}
	for _, d := range published() {
		for _, published := range record.Tables[d.Name] {
			hashed[published.Path] = true
			v.Rows += published.Rows
			if !present[published.Path] {
				continue // said already
			}
			if how := departsFrom(published, folder); how != "" {
				v.depart(stageOf(d.Name), "table "+d.Name, how)
			}
		}
	}
	for _, name := range record.Files {
		if present[name] && !hashed[name] {
			v.depart("files", name, "cannot be checked: "+marker+" has no hash of it, or names a table that this version does not know")
		}
	}
	for _, name := range slices.Sorted(maps.Keys(record.Other)) {
		if !present[name] {
			continue
		}
		data, err := os.ReadFile(filepath.Join(folder, filepath.FromSlash(name)))
		if err != nil {
			return v, err
		}
		if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != record.Other[name] {
			v.depart("publish", name, "holds other bytes than were published")
		}
	}
	return v, nil
}

// published are the tables of a study and those that a release alone has.
func published() []schemas.Description {
	all := schemas.Tables()
	for _, d := range schemas.Released() {
		if !slices.ContainsFunc(all, func(known schemas.Description) bool { return known.Name == d.Name }) {
			all = append(all, d)
		}
	}
	return all
}

// departsFrom says how the file of a table departs from what is recorded of
// it, "" when it does not.
func departsFrom(published tableFile, folder string) string {
	got, err := table.DigestFile(filepath.Join(folder, filepath.FromSlash(published.Path)))
	if err != nil {
		return published.Path + " cannot be read: " + err.Error()
	}
	if err := table.SameContent(got, published.Digest); err != nil {
		return published.Path + " holds " + err.Error()
	}
	if got.SHA256 != published.SHA256 {
		return published.Path + " holds the same rows in other bytes"
	}
	return ""
}

func (v *Verification) depart(stage, what, how string) {
	v.Departures = append(v.Departures, Departure{Stage: stage, What: what, How: how})
}

// filesIn lists the files below a folder by slash-separated relative path.
func filesIn(folder string) (map[string]bool, error) {
	present := map[string]bool{}
	err := filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		rel, err := filepath.Rel(folder, path)
		present[filepath.ToSlash(rel)] = true
		return err
	})
	return present, err
}

// stageOf is the stage that makes a table's content.
func stageOf(name string) string {
	switch name {
	case "swimmers":
		return "identity"
	case "sessions":
		return "normalise"
	case "lengths", "lineage", "heart_rate", "ledger":
		return "screen"
	case "bouts":
		return "derive"
	case "findings":
		return "findings"
	}
	return "analyse"
}

// Verify runs a finished study again, beside it, and compares: the published
// set with its record, the inputs with those recorded, and every table. Made
// by the same version on the same platform, all bytes must agree; else every
// value, numbers to Tolerance. Nothing of the study is changed.
func Verify(ctx context.Context, s *study.Study, o Options) (Verification, error) {
	folder := s.Path(s.Output)
	published, err := ReadRecord(folder)
	if err != nil {
		return Verification{}, err
	}
	v, err := VerifyTables(folder)
	if err != nil {
		return v, err
	}
	scratch, err := os.MkdirTemp("", "lengthwise-verify-")
	if err != nil {
		return v, err
	}
	defer os.RemoveAll(scratch)
	stage, err := table.Begin(filepath.Join(scratch, "out"), marker)
	if err != nil {
		return v, err
	}
	defer stage.Abort()
	o.Cache = ""
	r, src, again, err := produce(ctx, s, o, job{}, stage)
	if errors.Is(err, ErrNothing) {
		v.depart("read", "the inputs", "hold no length to use any more")
		return v, nil
	}
	if err != nil {
		return v, err
	}
	v.Recomputed, v.Inputs = true, len(r.Inputs)
	v.SameMaker = again.Version == published.Version && again.Go == published.Go && again.Platform == published.Platform
	v.compareInputs(again, published, src)
	v.compareSettings(again, published)
	if err := v.compareTables(folder, again, published, stage); err != nil {
		return v, err
	}
	if v.SameMaker {
		v.compareOther(again, published)
	}
	v.compareRecord(again, published)
	order := []string{"read", "settings", "files"}
	slices.SortStableFunc(v.Departures, func(a, b Departure) int { return rank(order, a.Stage) - rank(order, b.Stage) })
	return v, nil
}

func rank(order []string, stage string) int {
	if i := slices.Index(order, stage); i >= 0 {
		return i
	}
	return len(order)
}

// compareInputs compares the input files, which have no names in run.json: a
// file is called by its path here, as the caller is at home.
func (v *Verification) compareInputs(again, published Record, src *Sources) {
	paths := map[string]string{}
	for i, f := range src.Files {
		paths[f.ID] = src.Found[i].Rel
	}
	called := func(in Input) string {
		if path, ok := paths[in.FileID]; ok {
			return path
		}
		return "file " + in.FileID
	}
	was := map[string]Input{}
	for _, in := range published.Inputs {
		was[in.FileID] = in
	}
	for _, in := range again.Inputs {
		old, ok := was[in.FileID]
		delete(was, in.FileID)
		switch {
		case !ok:
			v.depart("read", "input "+called(in), "was not among the inputs")
		case old != in:
			v.depart("read", "input "+called(in), fmt.Sprintf("is not the file that was read: %d bytes, SHA-256 %.12s, instead of %d, %.12s",
				in.Bytes, in.SHA256, old.Bytes, old.SHA256))
		}
	}
	for _, id := range slices.Sorted(maps.Keys(was)) {
		v.depart("read", "input "+called(was[id]), "is gone")
	}
}

func (v *Verification) compareSettings(again, published Record) {
	switch {
	case again.Seed != published.Seed:
		v.depart("settings", "seed", fmt.Sprintf("%d instead of %d", again.Seed, published.Seed))
	case again.Settings != published.Settings:
		v.depart("settings", "the study file", "does not say what it said: "+firstLine(again.Settings, published.Settings))
	}
}

// compareTables compares what was computed again with what is published, in
// the order of the data's way.
func (v *Verification) compareTables(folder string, again, published Record, stage *table.Stage) error {
	for _, d := range schemas.Tables() {
		was := map[string]tableFile{}
		for _, t := range published.Tables[d.Name] {
			was[t.Path] = t
		}
		for _, now := range again.Tables[d.Name] {
			old, ok := was[now.Path]
			delete(was, now.Path)
			if !ok {
				v.depart(stageOf(d.Name), "table "+d.Name, "the published set has no "+now.Path)
				continue
			}
			how, err := v.compareTable(folder, now, old, stage)
			if err != nil {
				return err
			}
			if how != "" {
				v.depart(stageOf(d.Name), "table "+d.Name, how)
			}
		}
		for _, path := range slices.Sorted(maps.Keys(was)) {
			v.depart(stageOf(d.Name), "table "+d.Name, path+" was published and is not made any more")
		}
	}
	return nil
}

// compareTable says how a table departs from the published one, "" when it
// does not.
func (v *Verification) compareTable(folder string, now, old tableFile, stage *table.Stage) (string, error) {
	if now.SHA256 == old.SHA256 {
		return "", nil
	}
	content := table.SameContent(now.Digest, old.Digest)
	if v.SameMaker {
		if content == nil {
			return "the same rows in other bytes", nil
		}
		return "computed again: " + content.Error(), nil
	}
	if content == nil {
		return "", nil
	}
	a, err := table.Open(stage.Path(now.Path))
	if err != nil {
		return "", err
	}
	defer a.Close()
	b, err := table.Open(filepath.Join(folder, filepath.FromSlash(old.Path)))
	if err != nil {
		return "cannot be read: " + err.Error(), nil
	}
	defer b.Close()
	if err := table.SameValues(a, b, Tolerance); err != nil {
		return "computed again: " + err.Error(), nil
	}
	return "", nil
}

func (v *Verification) compareOther(again, published Record) {
	for _, name := range slices.Sorted(maps.Keys(again.Other)) {
		if published.Other[name] != again.Other[name] {
			v.depart("publish", name, "computed again: other bytes")
		}
	}
}

// compareRecord catches what the parts above do not look at.
func (v *Verification) compareRecord(again, published Record) {
	if len(v.Departures) > 0 {
		return
	}
	for _, r := range []*Record{&again, &published} {
		if !v.SameMaker {
			r.Version, r.Go, r.Platform, r.Tables, r.Other = "", "", "", nil, nil
		}
	}
	a, errA := json.Marshal(again)
	b, errB := json.Marshal(published)
	if errA != nil || errB != nil || string(a) != string(b) {
		v.depart("publish", marker, "does not record this run")
	}
}

// firstLine quotes the first line in which two settings differ.
func firstLine(now, was string) string {
	a, b := strings.Split(now, "\n"), strings.Split(was, "\n")
	for i := range max(len(a), len(b)) {
		var x, y string
		if i < len(a) {
			x = strings.TrimSpace(a[i])
		}
		if i < len(b) {
			y = strings.TrimSpace(b[i])
		}
		if x != y {
			return fmt.Sprintf("%q instead of %q", x, y)
		}
	}
	return "in nothing but spaces"
}
