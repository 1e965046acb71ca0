package run

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"runtime"
	"slices"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/publish"
	"lengthwise/pipeline/study"
)

// Record is run.json: what went in, what came out, and with what it was made.
// It holds no time and no path of the machine, so that equal runs give equal
// records.
type Record struct {
	Program  string            `json:"program"`
	Files    []string          `json:"files"` // every file of the result, this one too
	Version  string            `json:"version"`
	Go       string            `json:"go"`
	Platform string            `json:"platform"`
	Study    string            `json:"study"`
	Seed     uint64            `json:"seed"`
	CostUnit string            `json:"cost_unit"`
	Settings string            `json:"settings_yaml"`   // resolved study file without paths; swimmers of changes by pseudonym
	Hash     string            `json:"settings_sha256"` // of settings_yaml
	Frozen   *study.Frozen     `json:"frozen_plan,omitempty"`
	Inputs   []Input           `json:"inputs"`
	Accounts []publish.Account `json:"accounts"`
	// HeartRateTau is what the squad says of time constants of heart rate: all
	// that swimmers' heart rates have to do with each other.
	HeartRateTau derive.Settled         `json:"heart_rate_time_constant"`
	Tables       map[string][]tableFile `json:"tables"`
	Other        map[string]string      `json:"other_files_sha256"` // by path; not run.json itself
}

// record writes run.json, the last file of a result.
func (w *writer) record(r *Result, s *study.Study) (Record, error) {
	for _, files := range w.tables {
		sortFiles(files)
	}
	settings := publicSettings(s, r)
	sum := sha256.Sum256([]byte(settings))
	record := Record{
		Program: programName, Files: w.files(), Version: Version, Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH,
		Study: s.Name, Seed: s.Seed, CostUnit: s.Cost.Unit(), Settings: settings, Hash: hex.EncodeToString(sum[:]),
		Frozen: r.Frozen, Inputs: r.Inputs, Accounts: r.Accounts, HeartRateTau: r.HeartRateTau, Tables: w.tables, Other: w.other,
	}
	data, err := json.MarshalIndent(record, "", "  ")
	if err != nil {
		return Record{}, fmt.Errorf("run.json: %w", err)
	}
	return record, w.stage.WriteFile(marker, append(data, '\n'))
}

// file writes a file that is no table into the result; workers call it at the
// same time.
func (w *writer) file(path string, data []byte) error {
	sum := sha256.Sum256(data)
	w.mu.Lock()
	w.other[path], w.bytes[path] = hex.EncodeToString(sum[:]), int64(len(data))
	w.mu.Unlock()
	return w.stage.WriteFile(path, data)
}

// files lists every file of the result.
func (w *writer) files() []string {
	names := append([]string{marker}, slices.Collect(maps.Keys(w.other))...)
	for _, tables := range w.tables {
		for _, t := range tables {
			names = append(names, t.Path)
		}
	}
	slices.Sort(names)
	return names
}
