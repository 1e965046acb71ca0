package datasets

import (
	"bytes"
	"cmp"
	_ "embed"
	"encoding/json"
	"math"
	"slices"

	"lengthwise/datasets/deckfile"
	"lengthwise/datasets/squad"
)

//go:embed demo/study.yaml
var demoStudy []byte

//go:embed demo/README.md
var demoReadme []byte

// writeSheets writes each sheet file once, with the rows of all swimmers on it in
// order of date, then of the squad.
func writeSheets(dir string, leaves []leaving) error {
	var all []sheetRows
	for i := range leaves {
		all = append(all, leaves[i].sheets...)
	}
	slices.SortStableFunc(all, func(a, b sheetRows) int {
		return cmp.Or(cmp.Compare(a.file, b.file), cmp.Compare(a.rows[0][deckfile.Date], b.rows[0][deckfile.Date]))
	})
	for from := 0; from < len(all); {
		to := from
		var rows []deckfile.Row
		for ; to < len(all) && all[to].file == all[from].file; to++ {
			rows = append(rows, all[to].rows...)
		}
		sheet := all[from]
		from = to
		write := deckfile.WriteSheet
		if sheet.wide {
			write = deckfile.WriteWide
		}
		var buf bytes.Buffer
		if err := write(&buf, rows, sheet.style.format); err != nil {
			return err
		}
		if err := writeFile(dir, sheet.file, buf.Bytes()); err != nil {
			return err
		}
	}
	for i := range leaves {
		if l := &leaves[i]; len(l.pulses) > 0 {
			var buf bytes.Buffer
			if err := deckfile.WriteHeartRateLog(&buf, l.pulses); err != nil {
				return err
			}
			if err := writeFile(dir, l.pulseFile(), buf.Bytes()); err != nil {
				return err
			}
		}
	}
	return nil
}

// writeLists writes the study file, the roster, assign and notes files.
func writeLists(dir string, leaves []leaving) error {
	var roster []deckfile.RosterEntry
	var assigned []deckfile.Assignment
	var notes []deckfile.Note
	for i := range leaves {
		l := &leaves[i]
		assigned = append(assigned, l.assigned...)
		notes = append(notes, l.notes...)
		if l.part.owned == byNobody {
			continue
		}
		e := deckfile.RosterEntryOf(&l.swimmer)
		e.Aliases, e.Squad, e.Consent, e.RateMedication = l.aliases, "relay", "yes", "no"
		if l.part.noMax {
			e.MaxBPM = 0
		}
		if l.part.medicine {
			e.RateMedication = "yes"
		}
		if l.part.refused {
			e.Consent = "no"
		}
		if l.part.owned == byDevice {
			e.Device = l.swimmer.Device
		}
		roster = append(roster, e)
	}
	var files [3]bytes.Buffer
	for _, err := range []error{
		deckfile.WriteRoster(&files[0], roster),
		deckfile.WriteAssign(&files[1], assigned),
		deckfile.WriteNotes(&files[2], notes),
	} {
		if err != nil {
			return err
		}
	}
	for _, f := range []struct {
		name    string
		content []byte
	}{
		{"roster.csv", files[0].Bytes()}, {"assign.csv", files[1].Bytes()}, {"notes.csv", files[2].Bytes()},
		{"study.yaml", demoStudy}, {"README.md", demoReadme},
	} {
		if err := writeFile(dir, f.name, f.content); err != nil {
			return err
		}
	}
	return nil
}

// swimmerTruth is a swimmer in truth.json.
type swimmerTruth struct {
	Swimmer            string         `json:"swimmer"`
	Kind               squad.Kind     `json:"kind"`
	EffectBPMPer10Pct  float64        `json:"effect_bpm_per_10pct"`
	CheapestPctOfUsual *float64       `json:"cheapest_rate_pct_of_usual"`
	ReferenceSpeedMPS  float64        `json:"reference_speed_mps"`
	UsualRateSPM       float64        `json:"usual_clean_rate_spm"`
	TauSeconds         float64        `json:"tau_s"`
	WatchBias          float64        `json:"watch_count_bias"`
	Sessions           []sessionTruth `json:"sessions"`
	Others             []otherFile    `json:"other_files,omitempty"`
}

type sessionTruth struct {
	Date       string   `json:"date"`
	Designed   bool     `json:"designed"`
	FatigueBPM float64  `json:"fatigue_at_end_bpm"`
	Files      []string `json:"files"`
	Faults     []fault  `json:"faults,omitempty"`
}

type otherFile struct {
	File string `json:"file"`
	What string `json:"what"`
}

// writeTruth writes truth.json: for readers of the demo, never for the pipeline.
func writeTruth(dir string, sc squad.Scenario, leaves []leaving) error {
	doc := struct {
		About    string         `json:"about"`
		Seed     uint64         `json:"seed"`
		Change   float64        `json:"change_bpm"`
		Kick     float64        `json:"full_over_light_kick_bpm"`
		Swimmers []swimmerTruth `json:"swimmers"`
	}{
		About: "What is true of the invented squad. A study never reads this file; compare its answers with it afterwards.",
		Seed:  sc.Seed, Change: sc.Change.BPM, Kick: sc.KickBPM,
	}
	for i := range leaves {
		sw := &leaves[i].swimmer
		t := swimmerTruth{
			Swimmer: sw.Handle, Kind: sw.Truth.Kind, EffectBPMPer10Pct: round2(sw.Truth.EffectBPMPer10Pct()),
			ReferenceSpeedMPS: round2(sw.RefSpeedMPS), UsualRateSPM: round2(sw.RateRefSPM), TauSeconds: round2(sw.TauSeconds),
			WatchBias: round2(100*sw.WatchBias) / 100, Sessions: leaves[i].sessions, Others: leaves[i].others,
		}
		if best, ok := sw.Truth.BestPctOfUsual(0); ok {
			best = round2(best)
			t.CheapestPctOfUsual = &best
		}
		doc.Swimmers = append(doc.Swimmers, t)
	}
	out, err := json.MarshalIndent(doc, "", "  ")
	if err != nil {
		return err
	}
	return writeFile(dir, "truth.json", append(out, '\n'))
}

// round2 rounds to two decimals; negative zero becomes zero.
func round2(v float64) float64 { return math.Round(100*v)/100 + 0 }
