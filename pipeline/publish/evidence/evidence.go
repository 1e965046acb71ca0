// Package evidence puts together what a finished study can hand to a room of
// strangers: claims with their intervals, figures with the data behind them, a
// handout, slides, and pairs of bouts to explore. It holds no name, pseudonym,
// session or date, and nothing that fewer swimmers stand behind than the study's
// smallest group.
//
// It computes no statistic: every number is one of a row that was given in, or
// a count of what is shown. Sentences come from package findings. The same
// input gives the same bytes.
package evidence

import (
	"encoding/json"
	"errors"
	"fmt"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// Input is what a pack is made from: the squad's rows of a result. Rows about
// single swimmers among them are passed over. It is read only.
type Input struct {
	Title   string // heads the pack; it must not tell the squad unless the squad wants that
	Licence string // on what terms the pack is given, in words
	Version string // of the program

	Cost          study.Cost
	Strokes       []string
	Seed          uint64 // which pairs are shown
	SmallestGroup int    // fewer swimmers than this are not shown

	Findings  []schemas.Finding
	Overall   []schemas.ScoreOverall
	ByRate    []schemas.CostByRate
	Advice    []schemas.AdviceOverall
	Contrasts []schemas.Contrast
	Changes   []schemas.Change
	Days      []schemas.Reliability
	Choices   []schemas.Sensitivity
	Summaries []schemas.SensitivitySummary
	Pairs     []analyse.SwimmerPairs
}

// File is one file of the pack; Name is its path in it, with forward slashes.
type File struct {
	Name string
	Data []byte
}

// ErrNothing says that no claim may be shown.
var ErrNothing = errors.New("no claim has enough swimmers behind it")

// Files makes the pack's files in order of their names. It fails with ErrNothing
// where nothing may be shown, and where a claim's numbers do not stand in the
// table that they are said to come from.
func Files(in Input) ([]File, error) {
	claims, withheld, err := in.claims()
	if err != nil {
		return nil, err
	}
	if len(claims) == 0 {
		return nil, fmt.Errorf("%w: the study's smallest group is %d", ErrNothing, in.SmallestGroup)
	}
	p := &pack{Input: in, claims: claims, withheld: withheld, digits: findings.Digits(in.Cost), unit: in.Cost.Unit()}
	p.figures = p.drawFigures()
	p.chosen = p.choosePairs()
	for _, make := range []func() error{p.addClaims, p.addFigures, p.addPages, p.addWords} {
		if err := make(); err != nil {
			return nil, err
		}
	}
	return p.done()
}

// pack is a pack being put together.
type pack struct {
	Input
	claims   []Claim
	withheld int // claims that stay back, for want of swimmers
	figures  []figure
	chosen   []shownPairs
	digits   int
	unit     string
	files    []File
}

func (p *pack) add(name string, data []byte) { p.files = append(p.files, File{name, data}) }

// addJSON adds a value as indented JSON.
func (p *pack) addJSON(name string, v any) error {
	data, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	p.add(name, append(data, '\n'))
	return nil
}
