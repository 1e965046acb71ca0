package publish

import (
	"slices"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// pageLink leads from the squad's page to a swimmer's.
type pageLink struct{ Name, Path string }

// SwimmerPath is where a swimmer's page stands, from the squad's page.
func SwimmerPath(swimmer string) string { return "swimmers/" + swimmer + ".html" }

// pages lists the swimmers' pages in the order of the table.
func (b builder) pages() []pageLink {
	if !b.SwimmerPages {
		return nil
	}
	var out []pageLink
	for _, s := range b.Swimmers {
		out = append(out, pageLink{Name: b.name(s.Swimmer), Path: SwimmerPath(s.Swimmer)})
	}
	return out
}

// further are the squad's answers to the questions that have no section of
// their own, in words and in the order of the findings.
func (b builder) further(shown map[string]bool) []person {
	placed := []string{findings.Headline, findings.MatchedPace, findings.Concordance, findings.Raw, findings.Between, findings.BySwimmer, findings.Limits}
	return byQuestion(b.Findings, func(f *schemas.Finding) bool {
		return f.Swimmer == nil && !slices.Contains(placed, f.Question) && !shown[f.Sentence]
	})
}

// byQuestion gathers the findings that are wanted under the headings of their
// questions, each caution of a question once.
func byQuestion(all []schemas.Finding, wanted func(*schemas.Finding) bool) []person {
	var out []person
	at := map[string]int{}
	for i := range all {
		f := &all[i]
		if !wanted(f) {
			continue
		}
		k, ok := at[f.Question]
		if !ok {
			k = len(out)
			at[f.Question] = k
			out = append(out, person{Name: findings.Heading(f.Question)})
		}
		out[k].Sentences = append(out[k].Sentences, f.Sentence)
		for _, c := range findings.Own(*f, nil) {
			if !slices.Contains(out[k].Cautions, c) {
				out[k].Cautions = append(out[k].Cautions, c)
			}
		}
	}
	return out
}
