package concordance

import (
	"cmp"
	"math"
	"slices"
)

// Pairs lists the pairs of rows to compare, block by block. It is immutable
// and may be used by several goroutines.
type Pairs struct {
	rows   int
	blocks []blockPairs // in increasing order of label
}

// blockPairs holds the pairs of one block.
type blockPairs struct {
	label int
	rows  []int  // the block's rows that are in a pair, in increasing order
	pairs []pair // positions in rows
}

type pair struct{ i, j int32 }

// NewPairs lists the pairs i < j of rows with the same block that match
// admits. match is called once for each pair of rows of a block, with the
// smaller index first; nil admits all. Rows of a block need not follow each
// other. It fails with a *[NoPairsError] if no pair is admitted.
func NewPairs(block []int, match func(i, j int) bool) (*Pairs, error) {
	order := make([]int, len(block))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(block[a], block[b]), cmp.Compare(a, b))
	})
	p := &Pairs{rows: len(block)}
	admitted := 0
	for start := 0; start < len(order); {
		end := start + 1
		for end < len(order) && block[order[end]] == block[order[start]] {
			end++
		}
		b := newBlock(block[order[start]], order[start:end], match)
		admitted += len(b.pairs)
		p.blocks = append(p.blocks, b)
		start = end
	}
	if admitted == 0 {
		return nil, &NoPairsError{Rows: len(block), Blocks: len(p.blocks)}
	}
	return p, nil
}

func newBlock(label int, rows []int, match func(i, j int) bool) blockPairs {
	b := blockPairs{label: label}
	paired := make([]bool, len(rows))
	for i := range rows {
		for j := i + 1; j < len(rows); j++ {
			if match == nil || match(rows[i], rows[j]) {
				b.pairs = append(b.pairs, pair{int32(i), int32(j)})
				paired[i], paired[j] = true, true
			}
		}
	}
	// Rows in no pair play no part; positions move up to close the gaps.
	position := make([]int32, len(rows))
	for i, used := range paired {
		if used {
			position[i] = int32(len(b.rows))
			b.rows = append(b.rows, rows[i])
		}
	}
	for n, q := range b.pairs {
		b.pairs[n] = pair{position[q.i], position[q.j]}
	}
	return b
}

// Len returns the number of pairs.
func (p *Pairs) Len() int {
	n := 0
	for _, b := range p.blocks {
		n += len(b.pairs)
	}
	return n
}

// Count compares all pairs. a and b hold a value for each row given to
// [NewPairs]; values no further apart than tie count as equal. It fails with
// a *[LengthError], a *[NotFiniteError], or a *[RangeError] for a tie that is
// negative or not finite.
func (p *Pairs) Count(a, b []float64, tie float64) (Tally, error) {
	if err := p.check(a, b, tie); err != nil {
		return Tally{}, err
	}
	n := len(p.blocks)
	counts := make([]float64, 3*n)
	t := Tally{Blocks: make([]int, n), Concordant: counts[:n:n], Discordant: counts[n : 2*n : 2*n], Tied: counts[2*n:]}
	for k, block := range p.blocks {
		t.Blocks[k] = block.label
		for _, q := range block.pairs {
			i, j := block.rows[q.i], block.rows[q.j]
			switch direction(a[i]-a[j], tie) * direction(b[i]-b[j], tie) {
			case 1:
				t.Concordant[k]++
			case -1:
				t.Discordant[k]++
			default:
				t.Tied[k]++
			}
		}
	}
	return t, nil
}

// Count lists the pairs of rows with the same block that match admits and
// compares a and b over them: [NewPairs] and [Pairs.Count] in one. a and b
// are the values to compare, already adjusted. Errors are those of the two.
func Count(block []int, a, b []float64, match func(i, j int) bool, tie float64) (Tally, error) {
	p, err := NewPairs(block, match)
	if err != nil {
		return Tally{}, err
	}
	return p.Count(a, b, tie)
}

func (p *Pairs) check(a, b []float64, tie float64) error {
	for _, c := range []struct {
		what   string
		values []float64
	}{{"a", a}, {"b", b}} {
		if len(c.values) != p.rows {
			return &LengthError{What: c.what, Got: len(c.values), Want: p.rows}
		}
		for i, v := range c.values {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return &NotFiniteError{What: c.what, Index: i, Value: v}
			}
		}
	}
	if !(tie >= 0) || math.IsInf(tie, 0) {
		return &RangeError{What: "tie", Value: tie, Want: "a finite number not below zero"}
	}
	return nil
}

// direction is the sign of a difference, zero within tie.
func direction(difference, tie float64) int {
	switch {
	case difference > tie:
		return 1
	case difference < -tie:
		return -1
	}
	return 0
}
