package publish

import (
	"slices"

	"lengthwise/pipeline/findings"
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
	var out []person
	at := map[string]int{}
	for _, f := range b.Findings {
		if f.Swimmer != nil || slices.Contains(placed, f.Question) || shown[f.Sentence] {
			continue
		}
		i, ok := at[f.Question]
		if !ok {
			i = len(out)
			at[f.Question] = i
			out = append(out, person{Name: findings.Heading(f.Question)})
		}
		out[i].Sentences = append(out[i].Sentences, f.Sentence)
		for _, c := range findings.Own(f, nil) {
			if !slices.Contains(out[i].Cautions, c) {
				out[i].Cautions = append(out[i].Cautions, c)
			}
		}
	}
	return out
}
