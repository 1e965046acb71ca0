package run

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/publish"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// Result is everything that a run gives, in memory: the rows of the tables
// but for heart_rate, which goes from its bucket straight into a file.
type Result struct {
	Swimmers  []schemas.Swimmer
	Sessions  []schemas.Session
	Lengths   []schemas.Length
	Lineage   []schemas.Lineage
	Bouts     []schemas.Bout
	Ledger    []schemas.LedgerEntry
	Answers   analyse.Result
	Findings  []schemas.Finding
	Counts    findings.BoutCounts
	Lacks     []findings.Lack
	Rules     []publish.LedgerCount
	Accounts  []publish.Account
	Inputs    []Input
	HeartRate int64 // samples in use
	// HeartRateTau is what the squad says of time constants of heart rate.
	HeartRateTau derive.Settled

	// Names maps pseudonyms to names. It must not leave the private folder
	// and the terminal.
	Names map[string]string
	// Unmatched are the files that no input claims, and NoOwner the ids of
	// files without an owner; both for the terminal alone.
	Unmatched []study.Unmatched
	NoOwner   []NoOwner
	Attention Attention // for the terminal alone
	// Understood is how sheets were read, in words; for the terminal alone, and
	// only when the study was assessed.
	Understood []SheetWords
}

// NoOwner is a file that nobody is known to own.
type NoOwner struct {
	File    string   `json:"file"` // path; private
	Nearest []string `json:"nearest"`
}

// ErrNothing says that the study's files hold no length to use.
var ErrNothing = errors.New("no length could be used")

// sink takes a bucket's heart-rate samples, in any order of buckets and from
// several goroutines; nil drops them.
type sink func(bucket int, rows []schemas.HeartRate) error

// compute runs the three phases up to the findings and writes nothing itself.
func compute(ctx context.Context, s *study.Study, o Options, heartRate sink) (*Result, *Sources, error) {
	src, err := ReadSources(ctx, s, o)
	if err != nil {
		return nil, nil, err
	}
	own := src.bySwimmer()
	reach, err := src.reach(s, own)
	if err != nil {
		return nil, nil, err
	}
	dealt := buckets(own)
	fitted := make([]*Fitted, len(dealt))
	err = each(ctx, len(dealt), o, FitPhase, func(i int) error {
		f, err := fit(dealt[i].swimmers, own, src, reach, s)
		if err != nil {
			return err
		}
		if heartRate != nil && len(f.heartRate) > 0 {
			if err := heartRate(dealt[i].number, f.heartRate); err != nil {
				return err
			}
		}
		f.samples, f.heartRate = int64(len(f.heartRate)), nil
		fitted[i] = f
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	settled := settle(fitted)
	err = each(ctx, len(fitted), o, AnswerPhase, func(i int) error {
		return fitted[i].answer(settled, own, src, s)
	})
	if err != nil {
		return nil, nil, err
	}
	r, err := reduce(fitted, src, own, s)
	if err != nil {
		return nil, nil, err
	}
	r.HeartRateTau = settled
	return r, src, nil
}

// reduce joins the buckets in order, checks the account and answers for the
// squad.
func reduce(fitted []*Fitted, src *Sources, own map[string][]read.Recording, s *study.Study) (*Result, error) {
	r := &Result{Inputs: src.Inputs, Names: src.names(), Unmatched: src.Unmatched}
	entries := append(slices.Clone(src.Entries), normalise.NotesOfNobody(src.Notes, known(own))...)
	var account screen.Account
	for i, f := range src.Files {
		account.Read(f.ID, f.Counts)
		entries = append(entries, src.Files[i].Entries...)
	}
	var parts []analyse.Part
	for _, f := range fitted {
		r.Swimmers = append(r.Swimmers, f.Swimmers...)
		r.Sessions = append(r.Sessions, f.Sessions...)
		r.Lengths = append(r.Lengths, f.Lengths...)
		r.Lineage = append(r.Lineage, f.Lineage...)
		r.Bouts = append(r.Bouts, f.Bouts...)
		r.HeartRate += f.samples
		entries = append(entries, f.Entries...)
		parts = append(parts, f.Parts...)
		account.Merge(&f.account)
	}
	src.nameLists(entries, s)
	account.Entries(entries)
	if err := account.Check(); err != nil {
		return nil, err
	}
	normalise.SortEntries(entries)
	r.Ledger = make([]schemas.LedgerEntry, len(entries))
	for i, e := range entries {
		r.Ledger[i] = entryRow(e)
	}
	r.Rules = countRules(entries, s.Screen)
	r.Accounts = balance(&account)
	r.NoOwner = src.noOwner()
	r.Attention = src.Attention
	r.Attention.Files = src.fileLedgers(entries, usedFiles(fitted), s)

	var err error
	if r.Answers, err = analyse.Study(parts, s); err != nil {
		return nil, err
	}
	r.Counts = findings.CountBouts(r.Bouts)
	r.Lacks = findings.Lacks(s.Cost, r.Swimmers, r.Bouts)
	r.Findings = findings.Make(r.FindingsInput(s))
	return r, nil
}

// FindingsInput is what the sentences are made from.
func (r *Result) FindingsInput(s *study.Study) findings.Input {
	return findings.Input{Study: s, Lacks: r.Lacks, BySource: r.Answers.BySource, BySwimmer: r.Answers.BySwimmer, Overall: r.Answers.Overall,
		Fits: r.Answers.Fits, Mixed: r.Answers.Mixed, Advice: r.Answers.AdviceOverall, Sensitivity: r.Answers.SensitivitySummary,
		Economical: r.Answers.Economical, ByRate: r.Answers.ByRate, RateLength: r.Answers.RateLength, Critical: r.Answers.Critical,
		Contrasts: r.Answers.Contrasts, Changes: r.Answers.Changes, Reliability: r.Answers.Reliability, Confounding: r.Answers.Confounding,
		Swimmers: r.Swimmers, Bouts: r.Counts}
}

// usedFiles are the ids of the files of which a record is in use.
func usedFiles(fitted []*Fitted) map[string]bool {
	used := map[string]bool{}
	for _, f := range fitted {
		for _, link := range f.Lineage {
			used[link.FileID] = true
		}
		for _, session := range f.Sessions {
			used[session.FileID] = true
		}
	}
	return used
}

func known(own map[string][]read.Recording) map[string]bool {
	swimmers := map[string]bool{}
	for swimmer := range own {
		swimmers[swimmer] = true
	}
	return swimmers
}

// countRules counts the ledger's records by rule and action, the most first.
func countRules(entries []read.Entry, settings study.Screen) []publish.LedgerCount {
	about := map[string]string{}
	for _, rule := range read.Rules() {
		about[rule.ID] = rule.About
	}
	for _, rule := range screen.Rules(settings) {
		about[rule.ID] = rule.About
	}
	type key struct {
		rule   string
		action read.Action
	}
	counts := map[key]int64{}
	for _, e := range entries {
		counts[key{e.Rule, e.Action}] += max(1, e.Records)
	}
	var out []publish.LedgerCount
	for k, n := range counts {
		out = append(out, publish.LedgerCount{Rule: k.rule, About: about[k.rule], Action: string(k.action), Records: n})
	}
	slices.SortFunc(out, func(a, b publish.LedgerCount) int {
		return cmp.Or(cmp.Compare(b.Records, a.Records), cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.Action, b.Action))
	})
	return out
}

// balance is the account by kind, for kinds that were read at all.
func balance(account *screen.Account) []publish.Account {
	var out []publish.Account
	for _, t := range account.Totals() {
		if t.Read > 0 {
			out = append(out, publish.Account{Kind: string(t.Kind), Read: t.Read, Used: t.Used, Excluded: t.Excluded})
		}
	}
	return out
}

// noOwner lists the files that nobody owns, with the nearest names of the
// roster to what stands in their path. Those that name somebody unknown are
// not in it: Attention.Unknown tells the name.
func (src *Sources) noOwner() []NoOwner {
	named := map[string]bool{}
	for _, u := range src.Attention.Unknown {
		named[u.File] = true
	}
	var out []NoOwner
	for i, f := range src.Files {
		if named[src.Found[i].Rel] {
			continue
		}
		for _, r := range f.Recordings {
			if r.Refused == identity.NoSwimmer {
				out = append(out, NoOwner{File: src.Found[i].Rel, Nearest: src.Registry.Nearest(src.Found[i].Swimmer, 3)})
				break
			}
		}
	}
	return out
}
