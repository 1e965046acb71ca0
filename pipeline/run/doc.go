// Package run is the runner: it alone knows files, workers, caches, order and
// progress. The stages of the pipeline are plain functions from rows to rows; run
// calls them in four phases, which are the phases in which a study can be split over
// machines:
//
//	read     files -> recordings, with the owner of each (sources.go, readings.go)
//	measure  swimmers, bucket by bucket -> lengths, bouts, their own time constants
//	         of heart rate (measure.go)
//	answer   swimmers again, with what all of them say of time constants -> steady
//	         heart rates, costs and answers (answer.go)
//	reduce   buckets in order -> tables, findings, pages, run.json (result.go)
//
// What the first three make is kept in a cache, each under a key of all that it
// follows from (stages.go), so that a run makes only what is not there yet.
//
// A result appears whole or not at all: everything is written beside the
// output folder and moved in place at the end. What it was made from is noted in
// the private folder, so that a run that would make it again can let it stand
// (changed.go).
package run

import "runtime"

// Version is the program's version; run.json and the pages carry it.
const Version = "0.1.0"

// programName is how run.json calls the program.
const programName = "lengthwise"

// marker is the file that makes a folder a result of this program.
const marker = "run.json"

// tablesFolder is where the tables are within a result.
const tablesFolder = "tables"

// Phase is a part of a run, for progress.
type Phase string

// The phases.
const (
	LookPhase   Phase = "looking"
	ReadPhase   Phase = "reading"
	FitPhase    Phase = "fitting"
	AnswerPhase Phase = "answering"
	ReducePhase Phase = "writing"
	PagesPhase  Phase = "laying out"
)

// Options says how a run is carried out. Nothing in it changes a number.
type Options struct {
	Workers  int                                // 0: as many as there are processors
	Progress func(phase Phase, done, total int) // nil: none; called from one goroutine at a time

	// Cache is the folder in which what was made of files and swimmers is kept for the
	// next run; "" for none. Verify and Assess never look there. With Anew nothing is
	// looked for in it, and all is left there.
	Cache string
	Anew  bool

	// Keep lets a result stand that nothing has changed since; Rehash compares the
	// content of every file for it, and does not trust size and time.
	Keep, Rehash bool

	longFrom int64 // bytes of a sheet that is read in parts; 0: longSheetFrom
}

func (o Options) workers() int {
	if o.Workers > 0 {
		return o.Workers
	}
	return runtime.GOMAXPROCS(0)
}
