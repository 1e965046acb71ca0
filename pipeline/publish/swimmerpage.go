package publish

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

//go:embed assets/swimmer.html
var swimmerText string

// SwimmerRows is what one swimmer's page shows beside what the squad's page
// has: the rows of that swimmer alone, in the order of their tables.
type SwimmerRows struct {
	Swimmer     string
	Economical  []schemas.EconomicalRate
	CostByRate  []schemas.CostByRate
	HeartCost   []schemas.HeartCost
	Reliability []schemas.Reliability
	Bouts       findings.BoutCounts
	Ledger      []schemas.LedgerEntry
}

// swimmerView is a swimmer's page as the template sees it.
type swimmerView struct {
	CSS                  template.CSS
	Policy               string
	Study, Version, Name string
	Pseudonyms           bool
	Answers              []swimmerAnswer
	Figures              []figure
	Words                []person // by question
	BoutsRead, BoutsUsed string
	Out, Records         *table
	More                 string
	Cautions             []string
}

// swimmerAnswer is the verdict of one stroke and design: a lead and what it
// rests on.
type swimmerAnswer struct {
	Lead               string
	Evidence, Cautions []string
}

// SwimmerPage returns one swimmer's page as a self-contained HTML file, which
// stands in the folder swimmers beside the squad's page. in is the squad's. It
// fails only where the template does.
func SwimmerPage(in PageInput, rows SwimmerRows) ([]byte, error) {
	t, err := template.New("swimmer").Parse(swimmerText)
	if err == nil {
		_, err = t.Parse(partsText)
	}
	if err != nil {
		return nil, fmt.Errorf("swimmer's page template: %w", err)
	}
	b := builder{PageInput: in, digits: findings.Digits(in.Study.Cost), unit: in.Study.Cost.Unit()}
	v := b.swimmer(rows)
	v.CSS, v.Policy = template.CSS(css), policy(css)
	var page bytes.Buffer
	if err := t.Execute(&page, v); err != nil {
		return nil, fmt.Errorf("page of swimmer %q: %w", rows.Swimmer, err)
	}
	return page.Bytes(), nil
}

func (b builder) swimmer(rows SwimmerRows) swimmerView {
	v := swimmerView{
		Study: findings.Printable(b.Study.Name), Version: b.Version, Name: b.name(rows.Swimmer),
		Pseudonyms: b.Name == nil && !b.Study.Privacy.AsGiven,
		BoutsRead:  findings.Grouped(int64(rows.Bouts.Bouts)), BoutsUsed: findings.Grouped(int64(rows.Bouts.Usable)),
		Out: builder{PageInput: PageInput{Bouts: rows.Bouts}}.unusable(),
	}
	v.Records, v.More = records(rows.Ledger)
	v.Cautions = findings.Cautions()
	own := b.ofSwimmer(rows.Swimmer)
	v.Answers = b.swimmerAnswers(rows.Swimmer, own)
	for _, stroke := range b.strokes() {
		for _, design := range []string{findings.Designed, findings.Observed} {
			if f, ok := b.rateFigure(rows, stroke, design); ok {
				v.Figures = append(v.Figures, f)
			}
		}
		if f, ok := b.daysFigure(rows, stroke); ok {
			v.Figures = append(v.Figures, f)
		}
	}
	shown := map[string]bool{}
	for _, f := range v.Figures {
		for _, c := range f.Captions {
			shown[c] = true
		}
	}
	v.Words = words(own, shown)
	return v
}

// withoutMedicine leaves out of a finding what says that the swimmer takes
// medicine: on a page by pseudonym somebody who knows the pace would know the
// health.
func withoutMedicine(f schemas.Finding) schemas.Finding {
	about := func(s string) bool { return strings.Contains(s, "medic") }
	if about(f.Sentence) {
		f.Sentence = strings.Join(slices.DeleteFunc(findings.Sentences(f.Sentence), about), " ")
		if f.Sentence == "" {
			f.Sentence = "Nothing is named here for this swimmer."
		}
	}
	if f.Caution != nil && about(*f.Caution) {
		left := strings.Join(slices.DeleteFunc(findings.Sentences(*f.Caution), about), " ")
		f.Caution = &left
	}
	return f
}

// ofSwimmer are the findings about one swimmer.
func (b builder) ofSwimmer(swimmer string) []schemas.Finding {
	var out []schemas.Finding
	for _, f := range b.Findings {
		if f.Swimmer == nil || *f.Swimmer != swimmer {
			continue
		}
		if b.Name == nil {
			f = withoutMedicine(f)
		}
		out = append(out, f)
	}
	return out
}

// swimmerAnswers are the verdicts, those of bouts set beforehand first, so that
// the strongest word that the data allow opens the page.
func (b builder) swimmerAnswers(swimmer string, own []schemas.Finding) []swimmerAnswer {
	var out []swimmerAnswer
	for _, stroke := range b.strokes() {
		for _, design := range b.designs(stroke) {
			for _, r := range b.BySwimmer {
				if r.Swimmer != swimmer || r.Stroke != stroke || r.Design != design {
					continue
				}
				a := swimmerAnswer{Lead: leadOf(findings.Worded(r), design)}
				for _, f := range own {
					if f.Question == findings.BySwimmer && f.Stroke != nil && *f.Stroke == stroke && f.Design != nil && *f.Design == design {
						a.Evidence = append(a.Evidence, f.Sentence)
						a.Cautions = append(a.Cautions, findings.Own(f, nil)...)
					}
				}
				out = append(out, a)
			}
		}
	}
	return out
}

// leadOf is the verdict as the page opens with it.
func leadOf(verdict, design string) string {
	costs := design == findings.Designed
	switch verdict {
	case findings.Tracks:
		if costs {
			return "Fewer strokes are cheaper."
		}
		return "Bouts of fewer strokes were the cheaper ones."
	case findings.RunsAgainst:
		if costs {
			return "Fewer strokes are dearer."
		}
		return "Bouts of fewer strokes were the dearer ones."
	case findings.PracticallyNone:
		if costs {
			return "Fewer strokes or more: practically the same."
		}
		return "Bouts of fewer strokes and of more were practically alike."
	case findings.TooLittleData:
		return "Too little data " + map[bool]string{true: "from set bouts.", false: "from bouts swum as liked."}[costs]
	}
	if costs {
		return "Set bouts leave it open."
	}
	return "Bouts swum as liked leave it open."
}

// words are the findings that stand nowhere else on the page, by question.
func words(own []schemas.Finding, shown map[string]bool) []person {
	return byQuestion(own, func(f *schemas.Finding) bool { return f.Question != findings.BySwimmer && !shown[f.Sentence] })
}

// mostRecords is how many ledger rows a page lists; the table holds them all.
const mostRecords = 300

// records lists what was left out or changed, heart-rate samples and notes of
// the reader aside, which would bury the lengths.
func records(ledger []schemas.LedgerEntry) (*table, string) {
	t := table{Caption: "Records left out or changed", Head: []head{{"Session", false}, {"File", false}, {"Record", true}, {"Kind", false}, {"Rule", false}, {"Outcome", false}, {"Detail", false}}}
	left := 0
	for _, e := range ledger {
		if e.Kind == "heart-rate" || e.Action == "noted" {
			continue
		}
		if len(t.Rows) == mostRecords {
			left++
			continue
		}
		session := none
		if e.Session != nil {
			session = *e.Session
		}
		t.add(word(session), word(e.FileID), num(fmt.Sprint(e.Record)), word(e.Kind), word(e.Rule), word(e.Action), word(strings.TrimSpace(findings.Printable(e.Detail))))
	}
	switch {
	case len(t.Rows) == 0:
		return nil, ""
	case left > 0:
		return &t, fmt.Sprintf("The first %d are listed; the table ledger holds %s more.", mostRecords, findings.Grouped(int64(left)))
	}
	return &t, ""
}
