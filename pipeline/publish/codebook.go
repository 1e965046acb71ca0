package publish

import (
	"bytes"
	"fmt"
	"strings"
)

// Codebook says for people what every column of every table is: name, type,
// unit, whether it can be missing, meaning. Markdown.
func Codebook(p Package) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# Codebook of the study %s\n\n", p.Study)
	fmt.Fprintf(&b, "Made by lengthwise %s from the same definitions that write the tables. %s\n\n", p.Version, p.terms())
	fmt.Fprintf(&b, "Tables are Parquet files. A missing value is null, never a number that stands for one. Times are UTC. "+
		"Where a column has no unit and its meaning speaks of cost, the unit is the study's: %s. A key is what identifies a row.\n", p.CostUnit)
	for _, t := range p.Tables {
		fmt.Fprintf(&b, "\n## %s\n%s.", t.Name, capital(t.About))
		if n := len(t.Files); n == 1 {
			fmt.Fprintf(&b, " File: `%s`.\n\n", t.Files[0].Path)
		} else {
			fmt.Fprintf(&b, " %d files, by swimmer.\n\n", n)
		}
		b.WriteString("| column | type | unit | missing | meaning |\n|---|---|---|---|---|\n")
		for _, f := range t.Fields {
			name, missing := "`"+f.Name+"`", "never"
			if f.Key {
				name += " (key)"
			}
			if f.Null {
				missing = "null"
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", name, f.Type, f.Unit, missing, strings.ReplaceAll(f.About, "|", "\\|"))
		}
	}
	return b.Bytes()
}

// Citation says how the set is cited: CITATION.cff 1.2.0.
func Citation(p Package) []byte {
	var b bytes.Buffer
	b.WriteString("cff-version: 1.2.0\nmessage: Please cite this study and the program that made its tables.\ntype: dataset\n")
	fmt.Fprintf(&b, "title: %q\nauthors:\n  - name: %q\n", "The study "+p.Study, "The squad of the study "+p.Study)
	if p.LastDate != "" {
		fmt.Fprintf(&b, "date-released: %s\n", p.LastDate)
	}
	fmt.Fprintf(&b, "references:\n  - type: software\n    title: lengthwise\n    version: %q\n    authors:\n      - name: The lengthwise developers\n", p.Version)
	return b.Bytes()
}
