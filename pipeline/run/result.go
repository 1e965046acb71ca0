package run

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

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

// Result is what a run gives, in memory. The rows of the large tables (lengths,
// lineage, bouts, heart_rate) go straight into their files; Assess, which writes
// none, keeps those of lengths, lineage and bouts.
type Result struct {
	Swimmers  []schemas.Swimmer
	Sessions  []schemas.Session
	Lengths   []schemas.Length  // of Assess alone
	Lineage   []schemas.Lineage // of Assess alone
	Bouts     []schemas.Bout    // of Assess alone
	Ledger    []schemas.LedgerEntry
	Answers   analyse.Result
	Findings  []schemas.Finding
	InUse     int // lengths in use
	Counts    findings.BoutCounts
	BySwimmer map[string]findings.BoutCounts // of each swimmer's bouts
	Lacks     []findings.Lack
	Rules     []publish.LedgerCount
	Accounts  []publish.Account
	Inputs    []Input
	HeartRate int64         // samples in use
	Frozen    *study.Frozen // how the study stands to the plan it froze; nil for none
	Kept      bool          // nothing has changed since this result was made, and it was left alone
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
	// ForgottenFiles are the paths of inputs that still hold recordings of swimmers
	// who were removed from the study; for the terminal alone.
	ForgottenFiles []string
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

// compute runs the stages up to the findings and writes nothing but what it leaves
// for the next run. The sources it gives back hold no recordings any more.
func compute(ctx context.Context, s *study.Study, o Options, j job, to sink) (_ *Result, _ *Sources, err error) {
	began := time.Now()
	e, err := newEngine(ctx, s, o, j)
	if err != nil {
		return nil, nil, err
	}
	src := e.src
	defer func() { err = errors.Join(err, src.Close()) }()
	own := src.bySwimmer()
	if err := e.turn.missing(); err != nil {
		return nil, nil, err
	}
	if e.reach, err = src.reach(s, own); err != nil {
		return nil, nil, err
	}
	all := line(own)
	r := &Result{BySwimmer: map[string]findings.BoutCounts{}}
	books := newBooks(src)
	kept := 0
	type first struct {
		measured *measuredTables
		bouts    *boutTable
	}
	err = ordered(ctx, len(all), o, FitPhase, func(i int) (f first, err error) {
		if f.measured, err = e.measure(all[i]); err == nil {
			f.bouts, err = e.answer(atOnceStage, all[i], derive.Settled{})
		}
		return f, err
	}, func(i int, f first) error {
		for _, w := range all[i].swimmers {
			if kept += len(w.bouts); kept > keptBouts {
				kept, w.bouts = kept-len(w.bouts), nil
			}
			books.enter(&w.measured)
			r.InUse += w.Lengths
			r.HeartRate += w.Samples
		}
		return errors.Join(to.measured(all[i], f.measured), to.answered(all[i], f.bouts))
	})
	if err != nil {
		return nil, nil, err
	}
	if err := e.turn.missing(); err != nil {
		return nil, nil, err
	}
	r.HeartRateTau = settle(all)
	later := slices.DeleteFunc(slices.Clone(all), func(b *bucket) bool { return len(askedBy(answerStage, b)) == 0 })
	err = ordered(ctx, len(later), o, AnswerPhase, func(i int) (*boutTable, error) { return e.answer(answerStage, later[i], r.HeartRateTau) },
		func(i int, t *boutTable) error { return to.answered(later[i], t) })
	if err != nil {
		return nil, nil, err
	}
	if err := e.turn.missing(); err != nil {
		return nil, nil, err
	}
	if err := r.reduce(all, src, books, s); err != nil {
		return r, src, err
	}
	return r, src, e.shelf.tidy(began, e.manifests(all))
}

// manifests names what this run has used of the cache.
func (e *engine) manifests(all []*bucket) map[string]bool {
	used := map[string]bool{}
	for b, files := range e.src.inBucket {
		if files > 0 {
			used[manifestOf(readStage, b)] = true
		}
	}
	for _, b := range all {
		used[manifestOf(measureStage, b.number)] = true
		for _, s := range []stage{atOnceStage, answerStage} {
			if len(askedBy(s, b)) > 0 {
				used[manifestOf(s, b.number)] = true
			}
		}
	}
	return used
}

// keptBouts is how many bouts are kept from the measure stage to the answer stage.
// Swimmers whose bouts are beyond it are derived anew from their packed recordings:
// the same numbers, for more time and no more memory.
const keptBouts = 50_000

// books are the account and the ledger of a run.
type books struct {
	account screen.Account
	entries []read.Entry
	used    map[string]bool // files of which a record is in use
}

// newBooks opens the books with what the readers counted and left out.
func newBooks(src *Sources) *books {
	b := &books{entries: slices.Clone(src.Entries), used: map[string]bool{}}
	for i, f := range src.Files {
		b.account.Read(f.ID, f.Counts)
		b.entries = append(b.entries, f.Entries...)
		src.Files[i].Entries = nil
	}
	return b
}

// enter enters what a swimmer's measures used and left out, and lets go of it.
func (b *books) enter(m *measured) {
	b.account.Merge(&m.Account)
	b.entries = append(b.entries, m.Entries...)
	for file := range m.Used {
		b.used[file] = true
	}
	m.Account, m.Entries, m.Used = screen.Account{}, nil, nil
}

// reduce joins the swimmers in order, checks the account and answers for the
// squad.
func (r *Result) reduce(all []*bucket, src *Sources, b *books, s *study.Study) error {
	r.Inputs, r.Names, r.Unmatched = src.Inputs, src.names(), src.Unmatched
	var parts []analyse.Part
	known := map[string]bool{}
	for _, b := range all {
		for _, w := range b.swimmers {
			known[w.name] = true
			if !w.Any {
				continue
			}
			r.Swimmers = append(r.Swimmers, w.answered.Row)
			r.Sessions = append(r.Sessions, w.answered.Sessions...)
			r.BySwimmer[w.name] = w.Counts
			r.Counts.Add(w.Counts)
			if w.Part != nil {
				parts = append(parts, *w.Part)
				w.Part = nil
			}
		}
	}
	entries := append(b.entries, normalise.NotesOfNobody(src.Notes, known)...)
	src.nameLists(entries, s)
	b.account.Entries(entries)
	if err := b.account.Check(); err != nil {
		return err
	}
	normalise.SortEntries(entries)
	r.Ledger = make([]schemas.LedgerEntry, len(entries))
	for i, e := range entries {
		r.Ledger[i] = entryRow(e)
	}
	r.Rules = countRules(entries, s.Screen)
	r.Accounts = balance(&b.account)
	r.NoOwner, r.ForgottenFiles = src.noOwner(), src.forgottenFiles(entries)
	r.Attention = src.Attention
	r.Attention.Files = src.fileLedgers(entries, b.used, s)

	var err error
	if r.Frozen, err = s.CheckFrozen(); err != nil {
		return err
	}
	if r.Answers, err = analyse.Study(parts, s); err != nil {
		return err
	}
	r.Lacks = findings.Lacks(s.Cost, r.Swimmers, func(swimmer string) findings.BoutCounts { return r.BySwimmer[swimmer] })
	r.Findings = findings.Make(r.FindingsInput(s))
	return nil
}

// FindingsInput is what the sentences are made from.
func (r *Result) FindingsInput(s *study.Study) findings.Input {
	return findings.Input{Study: s, Frozen: r.Frozen, Lacks: r.Lacks, BySource: r.Answers.BySource, BySwimmer: r.Answers.BySwimmer, Overall: r.Answers.Overall,
		Fits: r.Answers.Fits, Mixed: r.Answers.Mixed, Advice: r.Answers.AdviceOverall, Sensitivity: r.Answers.SensitivitySummary,
		Economical: r.Answers.Economical, ByRate: r.Answers.ByRate, RateLength: r.Answers.RateLength, Critical: r.Answers.Critical,
		Contrasts: r.Answers.Contrasts, Changes: r.Answers.Changes, Reliability: r.Answers.Reliability, Confounding: r.Answers.Confounding,
		Swimmers: r.Swimmers, Bouts: r.Counts}
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
	for i := range src.Files {
		if named[src.Found[i].Rel] {
			continue
		}
		for _, r := range src.held[i] {
			if r.Refused == identity.NoSwimmer {
				out = append(out, NoOwner{File: src.Found[i].Rel, Nearest: src.Registry.Nearest(src.Found[i].Swimmer, 3)})
				break
			}
		}
	}
	return out
}
