package publish

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// view is the page as the template sees it: text and pictures, no numbers.
type view struct {
	CSS                  template.CSS
	Policy               string
	Study, Version, Seed string
	Pseudonyms           bool // the page shows no names
	CostName, Unit       string
	SmallestEffect       string
	Answers              []answer
	Forests              []figure
	Pairs                *figure
	Further              []person // questions that have no figure here, in words
	Pages                []pageLink
	Across               []figure
	Rates, Choices       []figure
	TooLittle            []group
	Balance, Rules, Out  *table
	BoutsRead, BoutsUsed string
	Limits               []string
	Pooled               []string
	Cautions             []string
	Sources              []source
}

// answer is a headline: a lead, the number behind it, and how the verdicts
// fell.
type answer struct {
	Stroke     string // only where the study asks about several
	Lead, Rest string
	Cautions   []string
	Tally      []tally
	Picture    *drawing
}

type tally struct {
	Verdict, Words string
	Swimmers       int
}

// figure is one picture in two layouts with what it shows, its data and, where
// it is about swimmers, each one's own sentence.
type figure struct {
	ID, Heading string
	Note        string
	Captions    []string
	Drawings    []drawing
	Table       *table
	People      []person
	Common      []string
}

// caption adds a sentence, if there is one.
func (f *figure) caption(sentence string) {
	if sentence != "" {
		f.Captions = append(f.Captions, sentence)
	}
}

type person struct {
	Name      string
	Sentences []string
	Cautions  []string
}

// group is swimmers who share a reason.
type group struct {
	Heading, Why string
	Names        []string
}

// newView lays the whole page out.
func newView(in PageInput) view {
	b := builder{PageInput: in, digits: findings.Digits(in.Study.Cost), unit: in.Study.Cost.Unit()}
	v := view{
		Study: findings.Printable(in.Study.Name), Version: in.Version, Seed: fmt.Sprint(in.Study.Seed),
		CostName: costName(in.Study.Cost.Measure), Unit: b.unit,
		SmallestEffect: fixed(in.Study.Analysis.SmallestEffect, b.digits),
		Pseudonyms:     in.Name == nil && !in.Study.Privacy.AsGiven,
		Answers:        b.answers(),
		Pairs:          b.pairs(),
		TooLittle:      b.tooLittle(),
		Pages:          b.pages(),
		Balance:        b.balance(), Rules: b.rules(), Out: b.unusable(),
		BoutsRead: findings.Grouped(int64(in.Bouts.Bouts)), BoutsUsed: findings.Grouped(int64(in.Bouts.Usable)),
		Limits: b.sentences(findings.Limits), Pooled: b.pooledOver(),
		Cautions: findings.Cautions(),
		Sources:  sources(),
	}
	for _, stroke := range b.strokes() {
		for _, design := range b.designs(stroke) {
			if f, ok := b.forest(stroke, design); ok {
				v.Forests = append(v.Forests, f)
			}
		}
		for _, design := range b.designs(stroke) {
			if f, ok := b.squadRates(stroke, design); ok {
				v.Rates = append(v.Rates, f)
			}
			if f, ok := b.choices(stroke, design); ok {
				v.Choices = append(v.Choices, f)
			}
		}
		if f, ok := b.across(stroke); ok {
			v.Across = append(v.Across, f)
		}
	}
	shown := map[string]bool{}
	for _, f := range slices.Concat(v.Rates, v.Choices) {
		for _, c := range f.Captions {
			shown[c] = true
		}
	}
	v.Further = b.further(shown)
	return v
}

// builder holds what all parts of the page share.
type builder struct {
	PageInput
	digits int
	unit   string
}

// name is what the page calls a swimmer.
func (b builder) name(pseudonym string) string {
	if b.Name == nil {
		return findings.Printable(pseudonym)
	}
	return findings.Printable(b.Name(pseudonym))
}

// strokes lists the strokes of the rows, those the study asks for first.
func (b builder) strokes() []string {
	all := slices.Clone(b.Study.Analysis.Strokes)
	for _, r := range b.BySwimmer {
		all = append(all, r.Stroke)
	}
	seen := map[string]bool{}
	return slices.DeleteFunc(all, func(s string) bool {
		twice := seen[s]
		seen[s] = true
		return twice
	})
}

// designs lists the designs of a stroke that the page shows apart: designed,
// then observed; both together only where neither stands alone.
func (b builder) designs(stroke string) []string {
	has := map[string]bool{}
	for _, r := range b.BySwimmer {
		if r.Stroke == stroke {
			has[r.Design] = true
		}
	}
	var out []string
	for _, d := range []string{findings.Designed, findings.Observed} {
		if has[d] {
			out = append(out, d)
		}
	}
	if len(out) == 0 && has[findings.All] {
		out = append(out, findings.All)
	}
	return out
}

// answers are the headline findings.
func (b builder) answers() []answer {
	var out []answer
	for _, f := range b.Findings {
		if f.Question != findings.Headline {
			continue
		}
		lead, rest, _ := strings.Cut(f.Sentence, ": ")
		a := answer{Lead: lead + ".", Rest: capital(rest), Cautions: findings.Own(f, nil)}
		if f.Stroke != nil && len(b.strokes()) > 1 {
			a.Stroke = capital(*f.Stroke)
		}
		if f.Stroke != nil && f.Design != nil {
			a.Picture = b.averages(*f.Stroke)
			counts := findings.Input{Study: b.Study, BySwimmer: b.BySwimmer}.Tally(*f.Stroke, *f.Design)
			for _, verdict := range verdicts() {
				a.Tally = append(a.Tally, tally{verdict, verdictWords(verdict, counts[verdict]), counts[verdict]})
			}
		}
		out = append(out, a)
	}
	return out
}

// verdicts in the order of the page.
func verdicts() []string {
	return []string{findings.Tracks, findings.RunsAgainst, findings.PracticallyNone, findings.Undecided, findings.TooLittleData}
}

// verdictWords goes with a number of swimmers.
func verdictWords(verdict string, n int) string {
	switch verdict {
	case findings.Tracks:
		if n == 1 {
			return "tracks the cost"
		}
		return "track the cost"
	case findings.RunsAgainst:
		if n == 1 {
			return "runs against it"
		}
		return "run against it"
	case findings.PracticallyNone:
		return "practically none"
	case findings.TooLittleData:
		return "too little data"
	}
	return "undecided"
}

// verdictShort stands beside one swimmer's interval.
func verdictShort(verdict string) string {
	switch verdict {
	case findings.Tracks:
		return "tracks"
	case findings.RunsAgainst:
		return "runs against"
	}
	return strings.ReplaceAll(verdict, "-", " ")
}

// sentences are the findings of a question.
func (b builder) sentences(question string) []string {
	var out []string
	for _, f := range b.Findings {
		if f.Question == question {
			out = append(out, f.Sentence)
		}
	}
	return out
}

// sentence is the finding of a question about a stroke and design by the
// arm-stroke score, "" when there is none.
func (b builder) sentence(question, stroke, design string) string {
	for _, f := range b.Findings {
		if f.Question == question && f.Stroke != nil && *f.Stroke == stroke && f.Design != nil && *f.Design == design {
			return f.Sentence
		}
	}
	return ""
}

// short is the first sentence of a finding, for where the page explains the
// rest itself.
func (b builder) short(question, stroke, design string) string {
	parts := findings.Sentences(b.sentence(question, stroke, design))
	if len(parts) == 0 {
		return ""
	}
	return parts[0]
}

// overall is the squad's row for a question, by the arm-stroke score.
func (b builder) overall(question, measure, stroke, design string) (schemas.ScoreOverall, bool) {
	for _, r := range b.Overall {
		if r.Question == question && r.Measure == measure && r.Stroke == stroke && r.Design == design && r.Score == findings.ScoreArms {
			return r, true
		}
	}
	return schemas.ScoreOverall{}, false
}

// tooLittle groups swimmers without a verdict by the reason.
func (b builder) tooLittle() []group {
	var out []group
	for _, stroke := range b.strokes() {
		for _, design := range b.designs(stroke) {
			at := map[string]int{}
			for _, r := range b.BySwimmer {
				if r.Stroke != stroke || r.Design != design || findings.Worded(r) != findings.TooLittleData {
					continue
				}
				why := findings.Why(r)
				i, ok := at[why]
				if !ok {
					i = len(out)
					at[why] = i
					out = append(out, group{Heading: capital(stroke) + ", " + designWords(design), Why: why})
				}
				out[i].Names = append(out[i].Names, b.name(r.Swimmer))
			}
		}
	}
	return out
}

// pooledOver lists what was averaged over without being asked for, each once.
func (b builder) pooledOver() []string {
	var out []string
	for _, r := range b.Overall {
		if r.PooledOver == "" {
			continue
		}
		s := capital(r.Stroke) + ", " + designWords(r.Design) + ": " + r.PooledOver + "."
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

func designWords(design string) string {
	switch design {
	case findings.Designed:
		return "set beforehand"
	case findings.Observed:
		return "swum as they liked"
	}
	return "both kinds together"
}

func costName(measure string) string {
	switch measure {
	case "hr-reserve":
		return "the share of heart-rate reserve in a bout, in points of 100"
	case "net-beats":
		return "heart beats above rest for each 100 m"
	case "lab":
		return "the energy spent for each metre and kilogram"
	case "rpe":
		return "the swimmer's own rating of exertion (Borg CR10)"
	}
	return "the steady heart rate of a bout, in beats per minute"
}

func capital(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func known(p *float64) bool { return p != nil && !math.IsNaN(*p) && !math.IsInf(*p, 0) }
