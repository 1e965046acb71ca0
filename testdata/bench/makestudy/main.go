// Command makestudy writes a large study of an invented squad: the input of the
// benchmarks.
//
//	makestudy -swimmers 200 -sessions 50 DIR                  activity files, one a session
//	makestudy -as sheet -swimmers 1000 -sessions 50 DIR       one sheet, a row a length
//	makestudy -as repeats -swimmers 1000 -sessions 50 DIR     a sheet a swimmer, a row a repeat
//
// A session is 25 repeats of 200 m in a 25 m pool unless -repeats and -metres say
// otherwise. A folder that holds a study already gets the sessions that it lacks.
package main

import (
	"bufio"
	"bytes"
	"errors"
	"flag"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"runtime"

	"golang.org/x/sync/errgroup"

	"lengthwise/datasets/activityfile"
	"lengthwise/datasets/deckfile"
	"lengthwise/datasets/squad"
	"lengthwise/pipeline/identity"
)

const settings = `study: benchmark
seed: 1
timezone: UTC
inputs:
  - %s
roster: roster.csv
privacy: {identify: pseudonym, key_file: study.key, smallest_group: 10}
analysis: {strokes: [freestyle], sensitivity: %t}
output: out
`

func main() {
	log.SetFlags(0)
	as := flag.String("as", "files", "files, sheet or repeats")
	swimmers := flag.Int("swimmers", 200, "")
	sessions := flag.Int("sessions", 50, "of each swimmer")
	repeats := flag.Int("repeats", 25, "in a session")
	metres := flag.Float64("metres", 200, "of a repeat")
	rest := flag.Float64("rest", 15, "seconds between repeats")
	sensitivity := flag.Bool("sensitivity", false, "every specification too")
	flag.Parse()
	if flag.NArg() != 1 {
		log.Fatal("makestudy [flags] DIR")
	}
	sc := squad.Demo(7)
	sc.Swimmers, sc.SessionsPerSwimmer, sc.BoutsPerSession = *swimmers, *sessions, *repeats
	sc.Days, sc.WarmUp, sc.DrillShare = 0, false, 0
	sc.Distances, sc.SetDistances, sc.Pools, sc.RestSeconds = []float64{*metres}, nil, nil, *rest
	if *as == "repeats" {
		sc.LengthDetail = false
	}
	if *as != "files" {
		sc.HeartRate = squad.HeartRateEnd
	}
	if err := write(flag.Arg(0), *as, sc, *sensitivity); err != nil {
		log.Fatal("makestudy: ", err)
	}
}

func write(dir, as string, sc squad.Scenario, sensitivity bool) error {
	input := `{path: "watches/{swimmer}/*.fit", kind: activity, stroke_count: cycles, hr_source: strap}`
	if as != "files" {
		input = `{path: "sheets/*.csv", kind: sheet, stroke_count: arms}`
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "study.yaml"), fmt.Appendf(nil, settings, input, sensitivity), 0o644); err != nil {
		return err
	}
	if err := identity.CreateKey(filepath.Join(dir, "study.key")); err != nil && !errors.Is(err, os.ErrExist) {
		return err
	}
	roster := make([]deckfile.RosterEntry, sc.Swimmers)
	var err error
	if as == "files" {
		err = writeFiles(dir, sc, roster)
	} else {
		err = writeSheets(filepath.Join(dir, "sheets"), as == "sheet", sc, roster)
	}
	if err != nil {
		return err
	}
	var list bytes.Buffer
	if err := deckfile.WriteRoster(&list, roster); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "roster.csv"), list.Bytes(), 0o644)
}

func writeFiles(dir string, sc squad.Scenario, roster []deckfile.RosterEntry) error {
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for i := range sc.Swimmers {
		group.Go(func() error {
			sw := squad.SimulateSwimmer(sc, i)
			roster[i] = rosterEntry(&sw)
			folder := filepath.Join(dir, "watches", handle(&sw))
			if err := os.MkdirAll(folder, 0o755); err != nil {
				return err
			}
			for k := range sw.Sessions {
				s := &sw.Sessions[k]
				path := filepath.Join(folder, fmt.Sprintf("%s-%03d.fit", s.StartUTC.Format("20060102-1504"), s.Number))
				if _, err := os.Stat(path); err == nil {
					continue
				}
				data, err := activityfile.Encode(activityfile.FromSession(s, &sw, activityfile.Options{}), activityfile.Quirks{})
				if err != nil {
					return err
				}
				if err := os.WriteFile(path, data, 0o644); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return group.Wait()
}

// sheetColumns are those that a sheet of hand counts has as a rule.
var sheetColumns = []deckfile.Column{deckfile.Swimmer, deckfile.Date, deckfile.Start, deckfile.Session, deckfile.Set, deckfile.Rep, deckfile.Length,
	deckfile.DistanceM, deckfile.Pool, deckfile.Stroke, deckfile.Time, deckfile.Strokes, deckfile.Count, deckfile.HR, deckfile.HRSource, deckfile.HRDelay, deckfile.Rest}

// writeSheets writes one sheet of lengths, or a sheet of repeats for each swimmer.
func writeSheets(folder string, perLength bool, sc squad.Scenario, roster []deckfile.RosterEntry) (err error) {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	var file *os.File
	var out *bufio.Writer
	var sw squad.Swimmer
	var piece bytes.Buffer
	for i := range sc.Swimmers {
		first := i == 0 || !perLength
		if first {
			if i > 0 {
				if err := errors.Join(out.Flush(), file.Close()); err != nil {
					return err
				}
			}
			if file, err = os.Create(filepath.Join(folder, fmt.Sprintf("%05d.csv", i))); err != nil {
				return err
			}
			out = bufio.NewWriterSize(file, 1<<20)
		}
		squad.SimulateInto(sc, i, &sw)
		roster[i] = rosterEntry(&sw)
		var rows []deckfile.Row
		for k := range sw.Sessions {
			rows = append(rows, deckfile.RowsFromSession(&sw.Sessions[k], &sw, deckfile.SheetOptions{Name: handle(&sw), PerLength: perLength, HeartRate: deckfile.Strap})...)
		}
		piece.Reset()
		if err := deckfile.WriteSheet(&piece, rows, deckfile.Format{Columns: sheetColumns}); err != nil {
			return err
		}
		data := piece.Bytes()
		if !first { // the header stands once
			data = data[bytes.IndexByte(data, '\n')+1:]
		}
		if _, err := out.Write(data); err != nil {
			return err
		}
	}
	return errors.Join(out.Flush(), file.Close())
}

// handle is unique in squads larger than the list of invented names.
func handle(sw *squad.Swimmer) string { return fmt.Sprintf("%s %d", sw.Given+" "+sw.Family, sw.Index) }

func rosterEntry(sw *squad.Swimmer) deckfile.RosterEntry {
	e := deckfile.RosterEntryOf(sw)
	e.Swimmer, e.Consent = handle(sw), "yes"
	return e
}
