package run

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/cache/wire"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// engine is what the stages of one run share. Swimmers go through them bucket by
// bucket: a bucket is the unit of work, of what is kept for the next run, and of what
// is dealt out to machines.
type engine struct {
	src     *Sources
	study   *study.Study
	options Options
	reach   []map[string]bool // whom each of the study's changes reaches
	shelf   *shelf
	turn    turn
	inRows  bool // rows are handed on as rows, not as files of tables

	// What is written down between stages, and how.
	measuredCodec *wire.Codec[measured]
	answeredCodec *wire.Codec[answered]
	boutsCodec    *wire.Codec[[]schemas.Bout]
	digestCodec   *wire.Codec[table.Digest]
	ownTauCodec   *wire.Codec[ownTau]
	memberCodec   *wire.Codec[identity.Member]
}

// swimmer is one swimmer's way through the stages.
type swimmer struct {
	name    string // pseudonym; "" for the recordings of nobody
	records []held
	measured
	answered

	bouts []derive.Bout // from measure to answer; nil when there are none, or none were kept
}

// measured is what the measure stage knows of a swimmer in the end: what does not
// depend on any other swimmer's heart rates, and on no question.
type measured struct {
	Any      bool // there are sessions
	Row      schemas.Swimmer
	Sessions []schemas.Session
	Tau      derive.OwnTau
	Traced   int // bouts in order to be read by kinetics; 0: the squad's time constant changes nothing
	Lengths  int
	Samples  int64
	Entries  []read.Entry
	Account  screen.Account
	Used     map[string]bool // files of which a record is in use
}

// ownTau is the part of measured that says what the squad's time constant follows from.
type ownTau struct {
	Any    bool
	Traced int
	Tau    derive.OwnTau
}

// answered is what the answer stage adds.
type answered struct {
	Row      schemas.Swimmer   // with time constant and counts of bouts
	Sessions []schemas.Session // with counts of bouts
	Counts   findings.BoutCounts
	Part     *analyse.Part // nil where there are no bouts
}

// bucket is the swimmers of one bucket in order of pseudonym.
type bucket struct {
	number   int
	swimmers []*swimmer
}

// line puts the swimmers in the order of the result: by bucket, then by pseudonym.
func line(own map[string][]held) []*bucket {
	var all [table.Buckets]*bucket
	for name, records := range own {
		n := table.Bucket(name)
		if all[n] == nil {
			all[n] = &bucket{number: n}
		}
		all[n].swimmers = append(all[n].swimmers, &swimmer{name: name, records: records})
	}
	var out []*bucket
	for _, b := range all {
		if b != nil {
			slices.SortFunc(b.swimmers, func(x, y *swimmer) int {
				if x.name < y.name {
					return -1
				}
				return 1
			})
			out = append(out, b)
		}
	}
	return out
}

// sink takes the rows of the large tables, bucket by bucket in order; it keeps none
// of the slices.
type sink interface {
	measured(b *bucket, m *measuredTables) error
	answered(b *bucket, a *boutTable) error
}

// measuredTables are a bucket's rows of the tables that the measure stage fills, as
// rows or as files.
type measuredTables struct {
	rows                        fitRows
	lengths, lineage, heartRate *table.Piece // nil where there are no rows
}

// boutTable is a bucket's rows of the table of bouts, as rows or as a file.
type boutTable struct {
	rows  []schemas.Bout
	piece *table.Piece // nil where there are no rows
}

// job is what a run is told beside its options.
type job struct {
	known  map[string]madeFile // hashes of files by path, for the stamps that they had
	turn   turn
	inRows bool
}

// newEngine reads the study's files. Where a folder is named for it, what earlier runs
// made is looked for there, and what this one makes is left there.
func newEngine(ctx context.Context, s *study.Study, o Options, j job) (_ *engine, err error) {
	e := &engine{study: s, options: o, inRows: j.inRows, turn: j.turn}
	if err := e.codecs(); err != nil {
		return nil, err
	}
	if e.shelf, err = openShelf(o, j.turn); err != nil {
		return nil, err
	}
	if e.src, err = readSources(ctx, s, o, readPlan{shelf: e.shelf, known: j.known, turn: j.turn}); err != nil {
		return nil, err
	}
	return e, nil
}

func (e *engine) codecs() error {
	var errs [6]error
	e.measuredCodec, errs[0] = wire.For[measured]()
	e.answeredCodec, errs[1] = wire.For[answered]()
	e.boutsCodec, errs[2] = wire.For[[]schemas.Bout]()
	e.digestCodec, errs[3] = wire.For[table.Digest]()
	e.ownTauCodec, errs[4] = wire.For[ownTau]()
	e.memberCodec, errs[5] = wire.For[identity.Member]()
	return errors.Join(errs[:]...)
}

// introduce fills in what is known of a swimmer before any recording.
func (e *engine) introduce(w *swimmer) (row schemas.Swimmer, who derive.Athlete, person analyse.Person) {
	member, ok := e.src.Registry.Member(w.name)
	if !ok {
		member = unlisted()
	}
	row = swimmerRow(w.name, member)
	row.Squad = text(e.src.Registry.SquadID(member.Squad))
	who = derive.Athlete{HRRestBPM: member.HRRestBPM, HRMaxBPM: member.HRMaxBPM, VO2Rest: member.VO2RestMLPerKGMin}
	person = analyse.Person{RateAlteringMedication: member.RateAlteringMedication, BirthYear: member.BirthYear}
	for _, reached := range e.reach {
		person.Reached = append(person.Reached, reached == nil || reached[w.name])
	}
	return row, who, person
}

// ownKey is the key of all that a swimmer's measures follow from but the settings:
// recordings, notes and the row of the roster.
func (e *engine) ownKey(w *swimmer) cache.Key {
	parts := []string{"swimmer", w.name}
	for _, h := range w.records {
		parts = append(parts, h.FileID, fmt.Sprint(h.Part), h.Refused, string(h.sum[:]))
	}
	member, ok := e.src.Registry.Member(w.name)
	if !ok {
		member = unlisted()
	}
	member.Record, member.Line = 0, 0
	parts = append(parts, "roster", fmt.Sprint(ok), string(e.memberCodec.Append(nil, &member)), e.src.Registry.SquadID(member.Squad))
	for _, n := range e.src.Notes {
		if n.Swimmer == w.name {
			parts = append(parts, fmt.Sprintf("%#v", n))
		}
	}
	return cache.KeyOf(parts...)
}
