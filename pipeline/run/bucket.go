package run

import (
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// bucket is the work of the fit phase: the swimmers that share a bucket, in
// order of pseudonym. Heart-rate samples never leave it but as a file.
type bucket struct {
	number   int
	swimmers []string
}

// buckets deals the swimmers out; empty buckets are left out. Recordings of
// nobody are in the bucket of "".
func buckets(own map[string][]read.Recording) []bucket {
	var dealt [table.Buckets][]string
	for swimmer := range own {
		b := table.Bucket(swimmer)
		dealt[b] = append(dealt[b], swimmer)
	}
	var out []bucket
	for number, swimmers := range dealt {
		if len(swimmers) > 0 {
			slices.Sort(swimmers)
			out = append(out, bucket{number, swimmers})
		}
	}
	return out
}

// Fitted is what the fit phase gives for one bucket.
type Fitted struct {
	Swimmers []schemas.Swimmer
	Sessions []schemas.Session
	Lengths  []schemas.Length
	Lineage  []schemas.Lineage
	Bouts    []schemas.Bout
	Parts    []analyse.Part
	Entries  []read.Entry

	heartRate []schemas.HeartRate
	samples   int64
	account   screen.Account
	underway  []underway
}

// underway is a swimmer between the two passes over heart rate: what is known of
// the time constant by the swimmer's own samples waits for the squad's.
type underway struct {
	row      schemas.Swimmer
	sessions int // where the swimmer's rows in Fitted.Sessions begin
	who      derive.Athlete
	person   analyse.Person
	bouts    []derive.Bout
	tau      derive.OwnTau
}

// fit takes one bucket's swimmers through normalise, screen and derive, up to
// their own time constants of heart rate. reach says whom each of the study's
// changes reaches.
func fit(swimmers []string, own map[string][]read.Recording, src *Sources, reach []map[string]bool, s *study.Study) (*Fitted, error) {
	f := &Fitted{}
	for _, swimmer := range swimmers {
		if err := f.add(swimmer, own[swimmer], src, reach, s); err != nil {
			return nil, fmt.Errorf("swimmer %q: %w", swimmer, err)
		}
	}
	return f, nil
}

func (f *Fitted) add(swimmer string, recordings []read.Recording, src *Sources, reach []map[string]bool, s *study.Study) error {
	sessions, entries, err := normalise.Sessions(recordings, src.Notes, s)
	if err != nil {
		return err
	}
	f.Entries = append(f.Entries, entries...)
	if len(sessions) == 0 {
		return nil
	}
	member, ok := src.Registry.Member(swimmer)
	if !ok {
		member = unlisted()
	}
	u := underway{
		row:      swimmerRow(swimmer, member),
		sessions: len(f.Sessions),
		who:      derive.Athlete{HRRestBPM: member.HRRestBPM, HRMaxBPM: member.HRMaxBPM, VO2Rest: member.VO2RestMLPerKGMin},
		person:   analyse.Person{RateAlteringMedication: member.RateAlteringMedication, BirthYear: member.BirthYear},
	}
	u.row.Squad = text(src.Registry.SquadID(member.Squad))
	for _, reached := range reach {
		u.person.Reached = append(u.person.Reached, reached == nil || reached[swimmer])
	}
	screened, dropped := screen.Sessions(sessions, s.Screen)
	f.Entries = append(f.Entries, dropped...)
	for i := range screened {
		lengths, bouts := derive.Session(&screened[i], u.who, s.Cost)
		f.addSession(&screened[i], lengths, bouts)
		u.bouts = append(u.bouts, bouts...)
		if len(screened[i].Kept) > 0 {
			u.row.Sessions++
		}
	}
	u.tau = derive.FirstTau(u.bouts)
	f.underway = append(f.underway, u)
	return nil
}

// settle joins the time constants of all buckets' swimmers.
func settle(fitted []*Fitted) derive.Settled {
	var own []derive.OwnTau
	for _, f := range fitted {
		for i := range f.underway {
			own = append(own, f.underway[i].tau)
		}
	}
	return derive.Settle(own)
}

// answer is the second pass: steady heart rates and costs with what the squad
// says of time constants, and with them the bucket's answers.
func (f *Fitted) answer(squad derive.Settled, own map[string][]read.Recording, src *Sources, s *study.Study) error {
	for i := range f.underway {
		u := &f.underway[i]
		tau := squad.Shrink(u.tau)
		derive.Steady(u.bouts, tau, u.who, s.Cost)
		at := u.sessions
		for k := range u.bouts {
			b := &u.bouts[k]
			for f.Sessions[at].Session != b.Session {
				at++
			}
			u.row.Bouts++
			if b.Usable {
				u.row.UsableBouts++
				f.Sessions[at].UsableBouts++
			}
			f.Bouts = append(f.Bouts, boutRow(b))
		}
		f.Swimmers = append(f.Swimmers, withTau(u.row, u.tau, tau))
		if len(u.bouts) > 0 {
			part := analyse.Ask(u.person, u.bouts, s)
			if s.Analysis.Sensitivity {
				var err error
				if part.Curves, err = u.curves(own[u.row.Swimmer], src, squad, s); err != nil {
					return err
				}
			}
			f.Parts = append(f.Parts, part)
		}
	}
	f.underway = nil
	return nil
}

func (f *Fitted) addSession(s *screen.Session, lengths []derive.Length, bouts []derive.Bout) {
	for _, link := range s.Lineage {
		f.Lineage = append(f.Lineage, lineageRow(s, link))
	}
	for _, h := range s.KeptSamples {
		f.heartRate = append(f.heartRate, heartRateRow(s, h))
	}
	f.account.Used(s)
	if len(s.Kept) == 0 {
		return
	}
	f.Sessions = append(f.Sessions, sessionRow(s, bouts))
	for i := range lengths {
		f.Lengths = append(f.Lengths, lengthRow(s, &lengths[i]))
	}
}

// unlisted stands for a swimmer without a row in a roster.
func unlisted() identity.Member {
	none := math.NaN()
	return identity.Member{HRRestBPM: none, HRMaxBPM: none, MassKG: none, HeightCM: none, ArmSpanCM: none, VO2RestMLPerKGMin: none}
}
