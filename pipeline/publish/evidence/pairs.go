package evidence

import (
	"cmp"
	"encoding/binary"
	"hash/fnv"
	"math"
	"slices"
	"strconv"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/findings"
)

// mostPairs is how many pairs of one swimmer are shown: few enough that nobody
// stands out by the number of their sessions.
const mostPairs = 40

// shownPairs are the pairs of one stroke and design that the explorer shows: two
// rounded numbers each, in an order that says nothing of swimmers or days.
type shownPairs struct {
	Stroke   string       `json:"stroke"`
	Design   string       `json:"design"`
	Words    string       `json:"words"`
	Swimmers int          `json:"swimmers"`
	Pairs    [][2]float64 `json:"pairs"` // strokes in %, cost in the unit: one bout less the other
	Finding  string       `json:"finding"`
}

// choosePairs takes as many pairs of each swimmer, up to mostPairs, picked and
// put in order by a hash of their numbers and the study's seed. A stroke and
// design of too few swimmers has none.
func (p *pack) choosePairs() []shownPairs {
	var out []shownPairs
	for _, stroke := range p.Strokes {
		for _, design := range []analyse.Design{analyse.Designed, analyse.Observed} {
			shown := shownPairs{Stroke: stroke, Design: string(design), Words: p.strokeOf(stroke, designWords(string(design)))}
			var all []ranked
			for _, s := range p.Pairs {
				if s.Stroke != stroke || s.Design != design {
					continue
				}
				own := p.rank(s.Pairs)
				if len(own) == 0 {
					continue
				}
				shown.Swimmers++
				all = append(all, own[:min(len(own), mostPairs)]...)
			}
			if shown.Swimmers < p.SmallestGroup || shown.Swimmers == 0 {
				continue
			}
			slices.SortFunc(all, compareRanked)
			for _, r := range all {
				shown.Pairs = append(shown.Pairs, r.pair)
			}
			for _, c := range p.claims {
				if c.Question == findings.Concordance && c.Stroke == stroke && c.Design == string(design) {
					shown.Finding = c.Sentence
				}
			}
			out = append(out, shown)
		}
	}
	return out
}

type ranked struct {
	hash uint64
	pair [2]float64
}

func compareRanked(a, b ranked) int {
	return cmp.Or(cmp.Compare(a.hash, b.hash), cmp.Compare(a.pair[0], b.pair[0]), cmp.Compare(a.pair[1], b.pair[1]))
}

// rank rounds pairs, leaves out those of equal strokes, and orders them by hash.
func (p *pack) rank(pairs []analyse.Pair) []ranked {
	out := make([]ranked, 0, len(pairs))
	for _, pair := range pairs {
		r := ranked{pair: [2]float64{tenth(pair.StrokesPct), tenth(pair.Cost)}}
		if r.pair[0] == 0 || math.IsNaN(r.pair[0]) || math.IsNaN(r.pair[1]) {
			continue
		}
		h := fnv.New64a()
		var bytes [24]byte
		binary.LittleEndian.PutUint64(bytes[:8], p.Seed)
		binary.LittleEndian.PutUint64(bytes[8:16], math.Float64bits(pair.StrokesPct))
		binary.LittleEndian.PutUint64(bytes[16:], math.Float64bits(pair.Cost))
		h.Write(bytes[:])
		r.hash = mix(h.Sum64())
		out = append(out, r)
	}
	slices.SortFunc(out, compareRanked)
	return out
}

// mix spreads a hash over all its bits (the finaliser of SplitMix64, Steele et
// al. 2014).
func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

func tenth(v float64) float64 {
	r := math.Round(10*v) / 10
	if r == 0 {
		return 0 // no minus zero
	}
	return r
}

// pairRows are the explorer's pairs as CSV.
func (p *pack) pairRows() (header []string, rows [][]string) {
	header = []string{"stroke", "design", "strokes_difference_pct", "cost_difference", "cost_unit"}
	for _, s := range p.chosen {
		for _, pair := range s.Pairs {
			rows = append(rows, []string{s.Stroke, s.Design, strconv.FormatFloat(pair[0], 'f', 1, 64), strconv.FormatFloat(pair[1], 'f', 1, 64), p.unit})
		}
	}
	return header, rows
}
