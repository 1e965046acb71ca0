package publish

import (
	"fmt"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// table is a data table with column heads and, in the first cell of each row,
// a row head.
type table struct {
	Caption string
	Head    []head
	Rows    [][]cell
}

type head struct {
	Text   string
	Number bool // its column is set flush right
}

type cell struct {
	Text   string
	Number bool
	Whole  bool // an id or a day, not to be broken over lines
	Name   bool // a person's name, isolated from the direction of what is around it
	Kind   bool // words that say what a row is of, with room for them on a screen
}

func (t *table) add(cells ...cell) { t.Rows = append(t.Rows, cells) }

func word(s string) cell { return cell{Text: s} }

func num(s string) cell { return cell{Text: s, Number: true} }

func whole(s string) cell { return cell{Text: s, Whole: true} }

func name(s string) cell { return cell{Text: s, Name: true} }

// swimmerTable holds the numbers behind a forest, in its order, and then those
// of the swimmers who are not in it.
func (b builder) swimmerTable(caption string, shown, all []schemas.ScoreBySwimmer) *table {
	t := table{Caption: caption + ": cost of 10 % more strokes a minute, " + b.unit, Head: []head{
		{"Swimmer", false}, {"Estimate", true}, {"95 % interval", true}, {"q", true}, {"Verdict", false},
		{"Pairs, %", true}, {"By chance, %", true}, {"r across paces", true}, {"r at fixed pace", true}, {"Bouts", true}, {"Sessions", true}}}
	for _, r := range shown {
		b.addSwimmer(&t, r)
	}
	for _, r := range all {
		if findings.Worded(r) == findings.TooLittleData {
			b.addSwimmer(&t, r)
		}
	}
	return &t
}

const none = "\u2013" // an en dash: no number

func (b builder) addSwimmer(t *table, r schemas.ScoreBySwimmer) {
	estimate, span := none, none
	if e, ok := newInterval(r.EffectPer10Pct, r.EffectLow, r.EffectHigh); ok {
		estimate, span = signed(e.estimate, b.digits), b.span(e)
	}
	t.add(name(b.name(r.Swimmer)), num(estimate), num(span), num(maybe(r.QValue, 1, 3, probability)), word(verdictShort(findings.Worded(r))),
		num(maybe(r.Concordance, 100, 1, fixed)), num(maybe(r.ConcordanceNull, 100, 1, fixed)),
		num(maybe(r.RawR, 1, 2, signed)), num(maybe(r.PartialR, 1, 2, signed)), num(fmt.Sprint(r.Bouts)), num(fmt.Sprint(r.Sessions)))
}

// maybe writes a nullable number times a factor.
func maybe(p *float64, factor float64, digits int, write func(float64, int) string) string {
	if !known(p) {
		return none
	}
	return write(factor**p, digits)
}

// probability writes a q value so that rounding never carries it over 0.05.
func probability(q float64, digits int) string {
	s := fixed(q, digits)
	switch {
	case q < 0.001:
		return "<0.001"
	case s == "0.050" && q < 0.05:
		return "<0.05"
	case s == "0.050" && q > 0.05:
		return ">0.05"
	}
	return s
}

// balance is the account of records by kind.
func (b builder) balance() *table {
	if len(b.Accounts) == 0 {
		return nil
	}
	t := table{Caption: "Records by kind: read = used + excluded", Head: []head{{"Kind of record", false}, {"Read", true}, {"Used", true}, {"Excluded", true}}}
	for _, a := range b.Accounts {
		t.add(word(kindWords(a.Kind)), num(findings.Grouped(a.Read)), num(findings.Grouped(a.Used)), num(findings.Grouped(a.Excluded)))
	}
	return &t
}

func kindWords(kind string) string {
	switch kind {
	case "length":
		return "pool lengths"
	case "rest":
		return "rests"
	case "repeat":
		return "repeats (one row for several lengths)"
	case "heart-rate":
		return "heart-rate samples"
	}
	return kind
}

// rules is the ledger, rule by rule.
func (b builder) rules() *table {
	if len(b.Ledger) == 0 {
		return nil
	}
	t := table{Caption: "Records that met a rule", Head: []head{{"Rule", false}, {"What it looks for", false}, {"Outcome", false}, {"Records", true}}}
	for _, l := range b.Ledger {
		t.add(word(l.Rule), word(l.About), word(l.Action), num(findings.Grouped(l.Records)))
	}
	return &t
}

// unusable is the bouts that entered no model, by reason.
func (b builder) unusable() *table {
	if len(b.Bouts.Unusable) == 0 {
		return nil
	}
	t := table{Caption: "Bouts that entered no model", Head: []head{{"Reason", false}, {"Bouts", true}}}
	for _, r := range b.Bouts.Unusable {
		t.add(word(r.About), num(findings.Grouped(int64(r.Bouts))))
	}
	return &t
}
