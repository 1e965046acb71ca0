package evidence

import (
	"fmt"
	"slices"
	"strings"
)

// sources are the publications behind the claims' methods; volumes and pages
// are from memory except for Bland and Altman, which was seen.
func sources() []string {
	return []string{
		"Intervals by session: Bell RM, McCaffrey DF (2002), Survey Methodology 28, 169\u2013181; Pustejovsky JE, Tipton E (2018), Journal of Business and Economic Statistics 36, 672\u2013683.",
		"Averages over swimmers: Tipton E (2015), Psychological Methods 20, 375\u2013393; prediction intervals: Higgins JPT, Thompson SG, Spiegelhalter DJ (2009), Journal of the Royal Statistical Society A 172, 137\u2013159.",
		"One model of all bouts: Kenward MG, Roger JH (1997), Biometrics 53, 983\u2013997.",
		"Correlation within swimmers: Bland JM, Altman DG (1995), BMJ 310, 446.",
		"How far two days must differ: Hopkins WG (2000), Sports Medicine 30, 1\u201315.",
		"Several comparisons at once: Holm S (1979), Scandinavian Journal of Statistics 6, 65\u201370.",
	}
}

// addWords adds what says in plain text what the pack is.
func (p *pack) addWords() error {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n", p.Title)
	fmt.Fprintf(&b, "An evidence pack made by lengthwise %s from a finished study. Open `handout.html` (to read and print, A4 or Letter)", p.Version)
	b.WriteString(" or `slides.html` (one claim a screen, arrow keys) in a browser")
	if len(p.chosen) > 0 {
		b.WriteString("; `explorer.html` lets a room guess what the heart says")
	}
	b.WriteString(". Nothing is loaded from a network.\n\n")
	fmt.Fprintf(&b, "- `claims.csv`, `claims.json`: %d claims, each with its interval, the number of swimmers and bouts behind it, whether the bouts were observed or designed, and its limits.\n", len(p.claims))
	b.WriteString("- `figures/`: each figure as SVG and PNG, and the data behind it as CSV.\n")
	if len(p.chosen) > 0 {
		fmt.Fprintf(&b, "- `pairs.csv`: the pairs of the explorer: two rounded numbers each, at most %d of one swimmer, in no order.\n", mostPairs)
	}
	b.WriteString("- `SOURCES.md`, `LICENCE.md`, `manifest.json`: where the methods come from, on what terms the pack is given, and the SHA-256 of every file.\n\n")
	b.WriteString("## What is not in it\n\n")
	fmt.Fprintf(&b, "No names, pseudonyms, sessions or dates, and nothing that fewer than %d swimmers stand behind.", p.SmallestGroup)
	if p.withheld > 0 {
		fmt.Fprintf(&b, " %d of the study's claims stay back for that reason.", p.withheld)
	}
	b.WriteString(" The squad's own words for changes and tags stay with the squad. That makes it hard, not impossible, for people who know the squad to recognise somebody: hand it to a room, do not publish it without asking.\n\n")
	b.WriteString("## Before anybody acts on it\n\n")
	for _, c := range cautions() {
		b.WriteString("- " + c + "\n")
	}
	b.WriteString("\n## What the data cannot say\n\n")
	for _, l := range p.limits() {
		b.WriteString("- " + l + "\n")
	}
	p.add("README.md", []byte(b.String()))

	b.Reset()
	b.WriteString("# Sources of the methods\n\n")
	for _, s := range sources() {
		b.WriteString("- " + s + "\n")
	}
	b.WriteString("\nThe score is common practice (strokes plus seconds of a length); why it needs a test stands in the handout.\n")
	p.add("SOURCES.md", []byte(b.String()))
	p.add("LICENCE.md", []byte("# Terms\n\n"+p.Licence+"\n\nThe program that made this pack, lengthwise, is under the Apache License 2.0; its licence does not cover the squad's data.\n"))
	return nil
}

// addClaims adds the claims in both forms.
func (p *pack) addClaims() error {
	header := []string{"id", "question", "about", "sentence", "stroke", "design", "strength", "estimate", "unit", "interval_low", "interval_high", "interval",
		"predict_low", "predict_high", "swimmers", "bouts", "sessions", "limits", "table"}
	var rows [][]string
	for _, c := range p.claims {
		rows = append(rows, []string{c.ID, c.Question, c.About, c.Sentence, c.Stroke, c.Design, c.Strength, number(&c.Estimate), c.Unit, number(&c.IntervalLow), number(&c.IntervalTop),
			c.Interval, number(c.PredictLow), number(c.PredictHigh), fmt.Sprint(c.Swimmers), fmt.Sprint(c.Bouts), fmt.Sprint(c.Sessions), strings.Join(c.Limits, " "), c.Table})
	}
	data, err := table(header, rows)
	if err != nil {
		return err
	}
	p.add("claims.csv", data)
	return p.addJSON("claims.json", p.claims)
}

// addFigures adds each figure three times: to scale, to paste, and as numbers.
func (p *pack) addFigures() error {
	for _, f := range p.figures {
		png, err := f.picture.PNG(2)
		if err != nil {
			return fmt.Errorf("figure %s: %w", f.name, err)
		}
		data, err := f.csv()
		if err != nil {
			return fmt.Errorf("figure %s: %w", f.name, err)
		}
		p.add("figures/"+f.name+".svg", f.picture.SVG())
		p.add("figures/"+f.name+".png", png)
		p.add("figures/"+f.name+".csv", data)
	}
	if len(p.chosen) == 0 {
		return nil
	}
	header, rows := p.pairRows()
	data, err := table(header, rows)
	p.add("pairs.csv", data)
	return err
}

// done adds the manifest and puts the files in order.
func (p *pack) done() ([]File, error) {
	slices.SortFunc(p.files, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	type entry struct {
		Path   string `json:"path"`
		Bytes  int    `json:"bytes"`
		SHA256 string `json:"sha256"`
	}
	var entries []entry
	for _, f := range p.files {
		entries = append(entries, entry{f.Name, len(f.Data), hashHex(f.Data)})
	}
	err := p.addJSON("manifest.json", map[string]any{
		"program": "lengthwise", "version": p.Version, "smallest_group": p.SmallestGroup, "cost_unit": p.unit,
		"claims": len(p.claims), "claims_withheld": p.withheld, "files": entries,
	})
	slices.SortFunc(p.files, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	return p.files, err
}
