package run

import (
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// keptBouts is how many bouts are kept from the first pass over heart rate to
// the second. Swimmers whose bouts are beyond it are derived anew from their
// packed recordings: the same numbers, for more time and no more memory.
const keptBouts = 50_000

// swimmer is one swimmer's way through the fit phase.
type swimmer struct {
	bucket  int
	name    string // pseudonym; "" for the recordings of nobody
	records []held

	// What the first pass leaves for the second, and for the study.
	row      schemas.Swimmer
	sessions []schemas.Session
	who      derive.Athlete
	person   analyse.Person
	tau      derive.OwnTau
	traced   int           // bouts in order to be read by kinetics; 0: the squad's time constant changes nothing
	bouts    []derive.Bout // nil when there are none, or none were kept
	any      bool          // there are sessions
	part     *analyse.Part // nil before it was asked, and where there are no bouts
	counts   findings.BoutCounts
}

// line puts the swimmers in the order of the result: by bucket, then by
// pseudonym.
func line(own map[string][]held) []*swimmer {
	var all []*swimmer
	for name, records := range own {
		all = append(all, &swimmer{bucket: table.Bucket(name), name: name, records: records})
	}
	slices.SortFunc(all, func(a, b *swimmer) int {
		if a.bucket != b.bucket {
			return a.bucket - b.bucket
		}
		if a.name < b.name {
			return -1
		}
		return 1
	})
	return all
}

// firstPass is what a swimmer's first pass gives to the tables and the account.
type firstPass struct {
	rows    fitRows
	bouts   []schemas.Bout // of swimmers who were asked at once
	entries []read.Entry
	account screen.Account
	used    map[string]bool // files of which a record is in use
}

// fitRows are rows of the tables that the first pass fills.
type fitRows struct {
	Lengths   []schemas.Length
	Lineage   []schemas.Lineage
	HeartRate []schemas.HeartRate
}

// fitter is what all swimmers' passes share.
type fitter struct {
	src   *Sources
	reach []map[string]bool // whom each of the study's changes reaches
	study *study.Study
}

// sessions screens a swimmer's recordings.
func (f *fitter) screened(w *swimmer) (sessions []screen.Session, entries []read.Entry, err error) {
	recordings, err := f.src.packed.load(w.records)
	if err != nil {
		return nil, nil, err
	}
	normal, entries, err := normalise.Sessions(recordings, f.src.Notes, f.study)
	if err != nil || len(normal) == 0 {
		return nil, entries, err
	}
	screened, dropped := screen.Sessions(normal, f.study.Screen)
	return screened, append(entries, dropped...), nil
}

// first takes a swimmer through normalise, screen and derive, up to their own
// time constant of heart rate, and asks at once those whom no other swimmer's
// heart rates concern.
func (f *fitter) first(w *swimmer) (*firstPass, error) {
	out := &firstPass{used: map[string]bool{}}
	sessions, entries, err := f.screened(w)
	if err != nil {
		return nil, fmt.Errorf("swimmer %q: %w", w.name, err)
	}
	out.entries = entries
	if sessions == nil {
		return out, nil
	}
	w.any = true
	f.introduce(w)
	for i := range sessions {
		s := &sessions[i]
		lengths, bouts := derive.Session(s, w.who, f.study.Cost)
		out.add(s, lengths)
		if len(s.Kept) > 0 {
			w.row.Sessions++
			w.sessions = append(w.sessions, sessionRow(s, bouts))
			out.used[s.FileID] = true
		}
		w.bouts = append(w.bouts, bouts...)
	}
	w.tau = derive.FirstTau(w.bouts)
	w.traced = derive.Traced(w.bouts)
	if w.traced == 0 {
		out.bouts, err = f.ask(w, derive.Settled{})
	}
	return out, err
}

// introduce fills in what is known of a swimmer before any recording.
func (f *fitter) introduce(w *swimmer) {
	member, ok := f.src.Registry.Member(w.name)
	if !ok {
		member = unlisted()
	}
	w.row = swimmerRow(w.name, member)
	w.row.Squad = text(f.src.Registry.SquadID(member.Squad))
	w.who = derive.Athlete{HRRestBPM: member.HRRestBPM, HRMaxBPM: member.HRMaxBPM, VO2Rest: member.VO2RestMLPerKGMin}
	w.person = analyse.Person{RateAlteringMedication: member.RateAlteringMedication, BirthYear: member.BirthYear}
	for _, reached := range f.reach {
		w.person.Reached = append(w.person.Reached, reached == nil || reached[w.name])
	}
}

// add takes a screened session's rows.
func (p *firstPass) add(s *screen.Session, lengths []derive.Length) {
	for _, link := range s.Lineage {
		p.rows.Lineage = append(p.rows.Lineage, lineageRow(s, link))
		p.used[link.FileID] = true
	}
	for _, h := range s.KeptSamples {
		p.rows.HeartRate = append(p.rows.HeartRate, heartRateRow(s, h))
	}
	p.account.Used(s)
	for i := range lengths {
		p.rows.Lengths = append(p.rows.Lengths, lengthRow(s, &lengths[i]))
	}
}

// settle joins the time constants of all swimmers.
func settle(all []*swimmer) derive.Settled {
	var own []derive.OwnTau
	for _, w := range all {
		if w.any {
			own = append(own, w.tau)
		}
	}
	return derive.Settle(own)
}

// second is the second pass, for swimmers who were not asked in the first.
func (f *fitter) second(w *swimmer, squad derive.Settled) ([]schemas.Bout, error) {
	if w.bouts == nil {
		sessions, _, err := f.screened(w)
		if err != nil {
			return nil, fmt.Errorf("swimmer %q, again: %w", w.name, err)
		}
		for i := range sessions {
			_, bouts := derive.Session(&sessions[i], w.who, f.study.Cost)
			w.bouts = append(w.bouts, bouts...)
		}
		derive.FirstTau(w.bouts) // lets go of what only the first pass needs
	}
	return f.ask(w, squad)
}

// ask gives a swimmer's bouts their steady heart rates and costs, with what the
// squad says of time constants, and puts the study's questions to them.
func (f *fitter) ask(w *swimmer, squad derive.Settled) ([]schemas.Bout, error) {
	tau := squad.Shrink(w.tau)
	derive.Steady(w.bouts, tau, w.who, f.study.Cost)
	rows := make([]schemas.Bout, len(w.bouts))
	at := 0
	for k := range w.bouts {
		b := &w.bouts[k]
		for w.sessions[at].Session != b.Session {
			at++
		}
		w.row.Bouts++
		if b.Usable {
			w.row.UsableBouts++
			w.sessions[at].UsableBouts++
		}
		rows[k] = boutRow(b)
	}
	w.row = withTau(w.row, w.tau, tau)
	w.counts = findings.CountBouts(rows)
	if len(w.bouts) > 0 {
		part := analyse.Ask(w.person, w.bouts, f.study)
		if f.study.Analysis.Sensitivity {
			var err error
			if part.Curves, err = f.curves(w, squad); err != nil {
				return nil, err
			}
		}
		w.part = &part
	}
	w.bouts = nil
	return rows, nil
}

// unlisted stands for a swimmer without a row in a roster.
func unlisted() identity.Member {
	none := math.NaN()
	return identity.Member{HRRestBPM: none, HRMaxBPM: none, MassKG: none, HeightCM: none, ArmSpanCM: none, VO2RestMLPerKGMin: none}
}
