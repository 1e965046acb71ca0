// Package publish lays results out for readers: one page that opens from disk,
// loads nothing and holds no script.
//
// It computes no statistic. Every number on the page is a number of a row that
// was given in, rounded, or a count of such rows; every sentence about a
// result comes from package findings. The page's bytes depend on its input
// alone: no clock, no map order.
//
// The markup is also well-formed XML, so that a strict parser can check it.
package publish

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// PageInput is what a study's page shows. It is read only.
type PageInput struct {
	Study       *study.Study
	Version     string // of the program
	BySwimmer   []schemas.ScoreBySwimmer
	Overall     []schemas.ScoreOverall
	ByRate      []schemas.CostByRate
	Sensitivity []schemas.Sensitivity
	Swimmers    []schemas.Swimmer
	Findings    []schemas.Finding // as findings.Make gives them
	Bouts       findings.BoutCounts
	Ledger      []LedgerCount // in the order to be shown
	Accounts    []Account

	SwimmerPages bool // each swimmer has a page of their own beside this one

	// Name turns a pseudonym into what the reader calls the swimmer. Nil
	// shows pseudonyms, which is what a page that may leave the squad needs.
	Name func(pseudonym string) string
}

// LedgerCount is how many records met one rule with one outcome.
type LedgerCount struct {
	Rule    string `json:"rule"`
	About   string `json:"about"`  // what the rule looks for, in words
	Action  string `json:"action"` // excluded, repaired or noted
	Records int64  `json:"records"`
}

// Account is the balance of one kind of record: Read = Used + Excluded.
type Account struct {
	Kind     string `json:"kind"` // length, rest, repeat, heart-rate
	Read     int64  `json:"read"`
	Used     int64  `json:"used"`
	Excluded int64  `json:"excluded"`
}

//go:embed assets/page.css
var css string

//go:embed assets/page.html
var pageText string

//go:embed assets/parts.html
var partsText string

// Page returns the study's page as one self-contained HTML file. It fails only
// where the template does.
func Page(in PageInput) ([]byte, error) {
	t, err := template.New("page").Parse(pageText)
	if err == nil {
		_, err = t.Parse(partsText)
	}
	if err != nil {
		return nil, fmt.Errorf("page template: %w", err)
	}
	v := newView(in)
	v.CSS = template.CSS(css)
	v.Policy = policy(css)
	var b bytes.Buffer
	if err := t.Execute(&b, v); err != nil {
		return nil, fmt.Errorf("page of study %q: %w", in.Study.Name, err)
	}
	return b.Bytes(), nil
}

// policy lets a browser load nothing and use exactly the page's own style
// sheet, named by its hash.
func policy(style string) string {
	sum := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) +
		"'; img-src data:; base-uri 'none'; form-action 'none'"
}
