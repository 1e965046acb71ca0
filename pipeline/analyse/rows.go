package analyse

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
)

// Terms of the within-session model. The session is absorbed.
const (
	termSpeed        = "ln_speed"         // ln v - ln v_ref
	termSpeedSquared = "ln_speed_squared" // its square
	termMinutes      = "ln_minutes"       // ln(1 + minutes since the session's start)
	termRate         = "ln_stroke_rate"   // r = ln R - ln R_usual at that pace
	termRateSquared  = "ln_stroke_rate_squared"
	termRateByPace   = "ln_stroke_rate_by_speed" // r times ln v - ln v_ref
	termKick         = "kick "                   // prefix of the kicks' indicators
	termEquipment    = "equipment "              // prefix of the equipment's indicators
	termDesigned     = "designed"                // 1 for designed bouts, where both kinds are mixed
	termStratum      = "stratum "                // prefix of the strata's indicators
)

// rows is the bouts of one swimmer, one stroke and one design, by column.
type rows struct {
	bouts     []*derive.Bout
	session   []int // code by order of appearance
	sessions  int
	cost      []float64
	lnSpeed   []float64 // ln v - ln v_ref
	lnRate    []float64
	rate      []float64 // r = ln R - ln R_usual at that pace
	lnStrokes []float64 // ln strokes per 25 m
	lnMinutes []float64
	reference float64 // v_ref in m/s
	usual     usualRate

	// The costs' derivatives in the swimmer's ln time constant of heart rate, and
	// what is known of that; lnTauSE is 0 where no cost rests on it.
	costByLnTau      []float64
	lnTauSE, lnTauDF float64

	terms   []string
	columns [][]float64 // of all terms but the rate
}

// usable picks the bouts that enter models of a stroke under a design, in
// their given order, and counts the reasons of the others.
func usable(bouts []derive.Bout, stroke string, d Design) (picked []*derive.Bout, dropped map[string]int) {
	dropped = map[string]int{}
	for i := range bouts {
		b := &bouts[i]
		switch {
		case b.Stroke != stroke, d == Designed && !b.Designed, d == Observed && b.Designed:
			continue
		case !b.Usable:
			dropped[b.Reason]++
		default:
			picked = append(picked, b)
		}
	}
	return picked, dropped
}

// newRows lays the bouts out for models at a reference speed.
func newRows(bouts []*derive.Bout, usual usualRate, s *study.Study, d Design) *rows {
	r := &rows{bouts: bouts, reference: usual.referenceMPS, usual: usual}
	codes := map[string]int{}
	n := len(bouts)
	for _, column := range []*[]float64{&r.cost, &r.lnSpeed, &r.lnRate, &r.lnStrokes, &r.lnMinutes, &r.costByLnTau} {
		*column = make([]float64, n)
	}
	r.session = make([]int, n)
	for i, b := range bouts {
		code, ok := codes[b.Session]
		if !ok {
			code = len(codes)
			codes[b.Session] = code
		}
		r.session[i] = code
		r.cost[i], r.costByLnTau[i] = b.Cost, b.CostByLnTau
		if b.LnTauSE > 0 && b.CostByLnTau != 0 {
			r.lnTauSE, r.lnTauDF = b.LnTauSE, b.LnTauDF // one swimmer, one time constant
		}
		r.lnSpeed[i] = usual.pace(b)
		r.lnRate[i] = math.Log(b.StrokeRateSPM)
		r.lnStrokes[i] = math.Log(b.Strokes25)
		r.lnMinutes[i] = math.Log1p(math.Max(0, b.MinutesIn))
	}
	r.sessions = len(codes)
	r.rate = usual.relative(r)
	r.layTerms(d)
	return r
}

// layBasics lays out pace and drift.
func (r *rows) layBasics() {
	squared := make([]float64, len(r.lnSpeed))
	for i, x := range r.lnSpeed {
		squared[i] = x * x
	}
	r.terms = []string{termSpeed, termSpeedSquared, termMinutes}
	r.columns = [][]float64{r.lnSpeed, squared, r.lnMinutes}
}

// layTerms lays out pace, drift, what was noted of kick and equipment, and the
// strata of the cost reading.
func (r *rows) layTerms(d Design) {
	r.layBasics()
	if d == All {
		r.indicator(termDesigned, func(b *derive.Bout) bool { return b.Designed })
	}
	r.indicators(termKick, kickOf)
	r.indicators(termEquipment, equipmentOf)
	r.indicators(termStratum, stratumOf)
}

func kickOf(b *derive.Bout) string      { return b.Tags.Kick }
func equipmentOf(b *derive.Bout) string { return b.Tags.Equipment }
func stratumOf(b *derive.Bout) string   { return b.CostStratum }

// indicators adds a column for each value of a key but the commonest.
func (r *rows) indicators(prefix string, key func(*derive.Bout) string) {
	for i, value := range valuesOf(r.bouts, key) {
		if i > 0 {
			r.indicator(prefix+orNotStated(value), func(b *derive.Bout) bool { return key(b) == value })
		}
	}
}

// indicator adds a column of zeros and ones unless it would be constant.
func (r *rows) indicator(term string, is func(*derive.Bout) bool) {
	column := make([]float64, len(r.bouts))
	ones := 0
	for i, b := range r.bouts {
		if is(b) {
			column[i] = 1
			ones++
		}
	}
	if ones == 0 || ones == len(column) {
		return
	}
	r.terms = append(r.terms, term)
	r.columns = append(r.columns, column)
}

// straight returns terms and columns with the rate at the end, where a
// collinear rate is what is reported as dropped. r is the rate relative to the
// swimmer's usual one at that pace.
func (r *rows) straight() ([]string, [][]float64) {
	return append(slices.Clone(r.terms), termRate), append(slices.Clone(r.columns), r.rate)
}

// curved adds the square of r, with which cost may rise on both sides of a
// cheapest rate, and its product with pace, with which that rate may move: a
// straight line through a valley says nothing of the slope at the usual rate.
func (r *rows) curved() ([]string, [][]float64) {
	squared, byPace := make([]float64, len(r.rate)), make([]float64, len(r.rate))
	for i, rate := range r.rate {
		squared[i], byPace[i] = rate*rate, rate*r.lnSpeed[i]
	}
	terms, columns := r.straight()
	return append(terms, termRateSquared, termRateByPace), append(columns, squared, byPace)
}

// valuesOf lists the values of a key, the commonest first, then by name.
func valuesOf(bouts []*derive.Bout, key func(*derive.Bout) string) []string {
	counts := map[string]int{}
	for _, b := range bouts {
		counts[key(b)]++
	}
	return byCount(counts)
}

// byCount lists names by their counts, the largest first, then by name.
func byCount(counts map[string]int) []string {
	names := make([]string, 0, len(counts))
	for name := range counts {
		names = append(names, name)
	}
	sort.Slice(names, func(i, j int) bool {
		if counts[names[i]] != counts[names[j]] {
			return counts[names[i]] > counts[names[j]]
		}
		return names[i] < names[j]
	})
	return names
}

func orNotStated(value string) string {
	if value == "" {
		return "not stated"
	}
	return value
}

// keyCounts counts the values of each key that answers may be pooled over, in
// the order of pooledKeys.
type keyCounts []map[string]int

// pooledKey is something that should not differ among the bouts of an answer
// without the answer saying so.
type pooledKey struct {
	name  string
	value func(*derive.Bout) string
}

func pooledKeys() []pooledKey {
	return []pooledKey{
		{"pool", poolName},
		{"heart-rate source", func(b *derive.Bout) string { return b.HRSource }},
		{"heart-rate method", func(b *derive.Bout) string { return b.HRMethod }},
		{"stroke count", func(b *derive.Bout) string { return string(b.Basis) }},
		{"kick", func(b *derive.Bout) string { return b.Tags.Kick }},
		{"equipment", func(b *derive.Bout) string { return b.Tags.Equipment }},
	}
}

func poolName(b *derive.Bout) string {
	return strconv.FormatFloat(math.Round(b.PoolM*100)/100, 'f', -1, 64) + " m"
}

func countKeys(bouts []*derive.Bout) keyCounts {
	keys := pooledKeys()
	counts := make(keyCounts, len(keys))
	for k, key := range keys {
		counts[k] = map[string]int{}
		for _, b := range bouts {
			counts[k][key.value(b)]++
		}
	}
	return counts
}

// add adds another answer's counts.
func (c keyCounts) add(other keyCounts) {
	for k := range other {
		for value, n := range other[k] {
			c[k][value] += n
		}
	}
}

// String names the keys that differ, with their values and counts: what was
// averaged over without being asked for.
func (c keyCounts) String() string {
	var parts []string
	for k, key := range pooledKeys() {
		if len(c[k]) > 1 {
			parts = append(parts, key.name+": "+tally(c[k]))
		}
	}
	return strings.Join(parts, "; ")
}

// tally writes counts by name, the largest first.
func tally(counts map[string]int) string {
	names := byCount(counts)
	parts := make([]string, len(names))
	for i, name := range names {
		parts[i] = fmt.Sprintf("%s %d", orNotStated(name), counts[name])
	}
	return strings.Join(parts, ", ")
}

func total(counts map[string]int) int {
	sum := 0
	for _, n := range counts {
		sum += n
	}
	return sum
}
