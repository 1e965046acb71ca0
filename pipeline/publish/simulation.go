package publish

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

//go:embed assets/simulation.html
var simulationText string

// simulationView is what the template of a simulation's page shows.
type simulationView struct {
	CSS           template.CSS
	Policy        string
	Version, Made string
	Answers       []answer
	Sections      []simulationSection
}

type simulationSection struct {
	ID, Heading, Note string
	Tables            []*table
}

// SimulationPage is the page of what simulate gave, as one self-contained HTML file.
// made says in a sentence how many squads there are.
func SimulationPage(rows []schemas.Simulation, made, version string) ([]byte, error) {
	t, err := template.New("simulation").Parse(simulationText)
	if err == nil {
		_, err = t.Parse(partsText)
	}
	if err != nil {
		return nil, fmt.Errorf("template of the simulation's page: %w", err)
	}
	v := simulationView{CSS: template.CSS(css), Policy: policy(css), Version: version, Made: made, Answers: simulationAnswers(rows), Sections: simulationSections(rows)}
	var b bytes.Buffer
	if err := t.Execute(&b, v); err != nil {
		return nil, fmt.Errorf("page of the simulation: %w", err)
	}
	return b.Bytes(), nil
}

// simulationAnswers says, by design, how far verdicts of swimmers can be trusted.
func simulationAnswers(rows []schemas.Simulation) []answer {
	var out []answer
	for _, design := range []string{findings.Designed, findings.Observed} {
		falsest, wrongest, least := -1.0, -1.0, math.Inf(1)
		for _, r := range rows {
			if r.Design != design || r.Estimator != "swimmer" {
				continue
			}
			if r.FalsePct != nil {
				falsest = max(falsest, *r.FalsePct)
			}
			if r.WrongPct != nil {
				wrongest = max(wrongest, *r.WrongPct)
			}
			if r.CoveragePct != nil {
				least = min(least, *r.CoveragePct)
			}
		}
		if falsest < 0 || wrongest < 0 || math.IsInf(least, 1) {
			continue
		}
		lead := "Where rates are set beforehand, few verdicts about swimmers are wrong."
		if design == findings.Observed {
			lead = "Where swimmers swim as they like, tiredness and miscounted strokes mislead."
		}
		if falsest > 5 || wrongest > 5 {
			lead = "Verdicts about swimmers are wrong too often."
		}
		out = append(out, answer{Lead: lead, Rest: fmt.Sprintf("Of all kinds of squads, at most %s %% of the swimmers without an effect got a verdict of one, and at most %s %% of those with one the opposite. Intervals held the truth in %s %% of swimmers at the least.",
			fixed(falsest, 1), fixed(wrongest, 1), fixed(least, 1))})
	}
	return out
}

// simulationSections are the tables by design and estimator.
func simulationSections(rows []schemas.Simulation) (out []simulationSection) {
	for _, s := range []struct{ design, id, heading, note string }{
		{findings.Designed, "set", "Rates set beforehand", "The rates of each session were dealt out at one pace, so that nothing else moves with them."},
		{findings.Observed, "free", "Swum as the swimmers liked", "Nothing was set. Where tiredness differs by session and moves stroke rate and heart rate together, no model of the bouts alone can tell the two apart: that is why such bouts show what goes together, and not what costs."},
	} {
		section := simulationSection{ID: s.id, Heading: s.heading, Note: s.note}
		for _, e := range []struct{ estimator, caption string }{
			{"swimmer", "Swimmers: the number of each, and its verdict"}, {"squad", "The squad\u2019s average, in two stages"}, {"mixed", "The squad\u2019s average, by one mixed model"},
			{"concordance", "The squad\u2019s share of pairs in which fewer strokes cost less"}, {"cheapest-rate", "Sets of cheapest rates, and those named"},
		} {
			if t := simulationTable(rows, s.design, e.estimator, e.caption); t != nil {
				section.Tables = append(section.Tables, t)
			}
		}
		if len(section.Tables) > 0 {
			out = append(out, section)
		}
	}
	return out
}

func simulationTable(rows []schemas.Simulation, design, estimator, caption string) *table {
	t := table{Caption: caption, Head: []head{{"Squads", false}, {"True effect, bpm", true}, {"Scored", true}, {"Off by", true}, {"Scatter", true},
		{"Held, %", true}, {"Found, %", true}, {"Wrong, %", true}, {"False, %", true}, {"No answer, %", true}}}
	for _, r := range rows {
		if r.Design != design || r.Estimator != estimator {
			continue
		}
		effect := none
		if estimator != "cheapest-rate" {
			effect = signed(r.Effect, 0)
		}
		if r.EffectSD > 0 {
			effect += " (" + fixed(r.EffectSD, 1) + ")"
		}
		t.add(cell{Text: capital(r.Words) + sizes(r), Kind: true}, num(effect), num(findings.Grouped(int64(r.N))), num(maybe(r.Bias, 1, 2, signed)), num(maybe(r.RMSE, 1, 2, fixed)),
			num(maybe(r.CoveragePct, 1, 1, fixed)), num(maybe(r.FoundPct, 1, 1, fixed)), num(maybe(r.WrongPct, 1, 1, fixed)), num(maybe(r.FalsePct, 1, 1, fixed)), num(fixed(r.TooLittlePct, 1)))
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return &t
}

// sizes says how large squads are that are not of the usual size.
func sizes(r schemas.Simulation) string {
	if r.Swimmers == 12 && r.Sessions == 8 && r.Bouts == 8 {
		return ""
	}
	return fmt.Sprintf(" (%d, %d, %d)", r.Swimmers, r.Sessions, r.Bouts)
}
