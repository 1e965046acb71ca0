package publish

import (
	"fmt"
	"slices"
	"strings"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// choiceColumns are the choices as sensitivity_summary names them, with what a
// specification chose.
func choiceColumns(r schemas.Sensitivity) [][2]string {
	return [][2]string{
		{"steady_after_s", r.SteadyAfter}, {"shortest_bout_s", r.ShortestBout}, {"drift", r.Drift}, {"window_s", r.Window},
		{"reading", r.Reading}, {"lock_rule", r.LockRule}, {"repairs", r.Repairs}, {"heart_rate_source", r.HRSource},
		{"unknown_counts", r.UnknownCounts}, {"first_bout", r.FirstBout}, {"pace_terms", r.PaceTerms}, {"tag_terms", r.TagTerms},
		{"rate_terms", r.RateTerms}, {"counting_error", r.CountingError}, {"pooling", r.Pooling},
	}
}

// settingWords are the settings that do not explain themselves.
func settingWords(setting string) string {
	words := map[string]string{"reml": "random effects (REML)", "dl": "random effects (DerSimonian and Laird)", "pm": "random effects (Paule and Mandel)",
		"equal": "plain mean of the swimmers", "mixed": "one mixed model of all bouts", "ln-minutes": "logarithm of minutes", "both": "minutes and their logarithm"}
	if w, ok := words[setting]; ok {
		return w
	}
	return findings.Printable(strings.ReplaceAll(setting, "-", " "))
}

// choicesTable says for each setting of each choice where the numbers lie that
// have it; rows come sorted by estimate. Choices that no row makes otherwise are
// left out.
func (b builder) choicesTable(caption string, rows []schemas.Sensitivity) *table {
	t := table{Caption: caption + ": where the numbers lie under each choice, " + b.unit, Head: []head{
		{"Choice", false}, {"Set to", false}, {"Ways", true}, {"Lowest", true}, {"Middle", true}, {"Highest", true}, {"95 % interval beside zero", true}}}
	for choice, column := range choiceColumns(schemas.Sensitivity{}) {
		var settings []string
		of, beside := map[string][]float64{}, map[string]int{}
		own := ""
		for _, r := range rows {
			setting := choiceColumns(r)[choice][1]
			if of[setting] == nil {
				settings = append(settings, setting)
			}
			of[setting] = append(of[setting], *r.Estimate)
			if *r.ConfLow > 0 || *r.ConfHigh < 0 {
				beside[setting]++
			}
			if r.Specification == 1 {
				own = setting
			}
		}
		if len(settings) < 2 {
			continue
		}
		slices.SortFunc(settings, func(x, y string) int {
			switch { // the study's own first
			case x == own:
				return -1
			case y == own:
				return 1
			}
			return strings.Compare(x, y)
		})
		for _, setting := range settings {
			v, text := of[setting], settingWords(setting)
			if setting == own {
				text += " (the study\u2019s own)"
			}
			n := len(v)
			t.add(word(capital(findings.ChoiceWords(column[0]))), word(text), num(fmt.Sprint(n)), num(signed(v[0], b.digits)),
				num(signed((v[(n-1)/2]+v[n/2])/2, b.digits)), num(signed(v[n-1], b.digits)), num(fmt.Sprintf("%d of %d", beside[setting], n)))
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return &t
}
