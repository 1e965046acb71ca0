package analyse

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"slices"
	"time"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
)

// Curve is what one swimmer's bouts say for one stroke and design under every
// specification of the plan.
type Curve struct {
	stroke  string
	design  Design
	content uint64 // of the bouts under the study's own specification: an order free of names
	results []specResult
}

// specResult is a swimmer's primary number under one specification. rows is a
// hash of the rows and terms it rests on: equal ones give equal numbers.
type specResult struct {
	rows                uint64
	estimate, variance  float64
	bouts, sessions     int32
	enough, anyRowsUsed bool
}

// Curves gives one swimmer's primary number under every specification of the
// plan, without resampling. bouts is called once for each of Readings(s) with
// its place, in order, and returns the swimmer's bouts so derived.
func Curves(bouts func(reading int) []derive.Bout, s *study.Study) []Curve {
	specs := plan()
	readings := Readings(s)
	var curves []Curve
	for _, stroke := range s.Analysis.Strokes {
		for _, d := range []Design{Observed, Designed} {
			curves = append(curves, Curve{stroke: stroke, design: d, results: make([]specResult, len(specs))})
		}
	}
	memo := make([]map[uint64]specResult, len(curves))
	for i := range memo {
		memo[i] = map[uint64]specResult{}
	}
	for at, reading := range readings {
		derived := bouts(at)
		picked := map[pickKey]usualBouts{}
		recorders := map[string]recorderError{}
		for _, stroke := range s.Analysis.Strokes {
			recorders[stroke] = newRecorderError(derived, stroke)
		}
		for k, p := range specs {
			c := settingsOf(p, s)
			if c.Reading != reading {
				continue
			}
			for i := range curves {
				stroke, d := curves[i].stroke, curves[i].design
				key := pickKey{stroke, c.shortest, c.withoutRepaired, c.strapOnly, c.withoutUnknown, c.withoutFirst}
				bouts, ok := picked[key]
				if !ok {
					bouts = c.pick(derived, stroke, s)
					picked[key] = bouts
				}
				curves[i].results[k] = c.result(bouts, d, recorders[stroke], memo[i], s)
			}
		}
	}
	kept := curves[:0]
	for _, c := range curves {
		if !slices.ContainsFunc(c.results, func(r specResult) bool { return r.anyRowsUsed }) {
			continue
		}
		c.content = c.results[0].rows
		kept = append(kept, c)
	}
	return kept
}

// pickKey is all that says which of a reading's bouts are kept.
type pickKey struct {
	stroke                                                   string
	shortest                                                 time.Duration
	withoutRepaired, strapOnly, withoutUnknown, withoutFirst bool
}

// usualBouts are the bouts of a stroke that a specification keeps, with the
// usual rate that they show.
type usualBouts struct {
	bouts []*derive.Bout
	usual usualRate
}

// pick lists the usable bouts of a stroke that a specification keeps.
func (c specSettings) pick(bouts []derive.Bout, stroke string, s *study.Study) usualBouts {
	var out []*derive.Bout
	for i := range bouts {
		b := &bouts[i]
		switch {
		case !b.Usable, b.Stroke != stroke, b.DurationS < c.shortest.Seconds():
		case c.withoutRepaired && b.RepairedLengths > 0, c.strapOnly && b.HRSource != "strap":
		case c.withoutUnknown && b.Basis == study.UnknownBasis, c.withoutFirst && b.Bout == 1:
		default:
			out = append(out, b)
		}
	}
	return usualBouts{out, newUsualRate(out, referenceSpeed(out, s))}
}

// result is the primary number of a design, by the steps of answer.
func (c specSettings) result(of usualBouts, d Design, recorder recorderError, memo map[uint64]specResult, s *study.Study) specResult {
	var picked []*derive.Bout
	for _, b := range of.bouts {
		if b.Designed == (d == Designed) {
			picked = append(picked, b)
		}
	}
	bouts, _ := informative(picked)
	if len(bouts) == 0 {
		return specResult{}
	}
	r := newRows(bouts, of.usual, s, d)
	r.layVariant(c)
	h := r.hash()
	asked := r.terms
	if c.straightRate {
		asked = append(slices.Clip(asked), "straight") // the same rows may be read with a curve
	}
	if c.plainCounts {
		asked = append(slices.Clip(asked), "plain")
	}
	key := h.of(asked)
	if known, ok := memo[key]; ok {
		return known
	}
	out := c.fit(r, h, d, recorder, s)
	memo[key] = out
	return out
}

// layVariant lays out the terms of a specification in place of the study's own.
func (r *rows) layVariant(c specSettings) {
	r.layBasics()
	terms, columns := []string{termSpeed}, [][]float64{r.lnSpeed}
	if !c.straightPace {
		terms, columns = append(terms, termSpeedSquared), append(columns, r.columns[slices.Index(r.terms, termSpeedSquared)])
	}
	for _, term := range c.drift.terms() {
		column := r.lnMinutes
		if term == termClock {
			column = make([]float64, len(r.bouts))
			for i, b := range r.bouts {
				column[i] = math.Max(0, b.MinutesIn)
			}
		}
		terms, columns = append(terms, term), append(columns, column)
	}
	r.terms, r.columns = terms, columns
	if !c.withoutTags {
		r.indicators(termKick, kickOf)
		r.indicators(termEquipment, equipmentOf)
	}
	r.indicators(termStratum, stratumOf)
}

// fit gives the primary number where there are enough data for one.
func (c specSettings) fit(r *rows, h rowsHash, d Design, recorder recorderError, s *study.Study) specResult {
	out := specResult{bouts: int32(len(r.bouts)), sessions: int32(r.sessions), anyRowsUsed: true, rows: h.of(r.terms)}
	var both sides
	var m *linear.Model
	var covariance linear.Covariance
	var err error
	if c.straightRate {
		m, covariance, err = r.fitCost(r.straight())
	} else {
		m, covariance, err = r.fitRate(&both)
	}
	if err != nil {
		return out
	}
	effect, err := m.Coefficient(termRate, covariance, level)
	if err != nil || !(effect.DF > 0) || !(effect.StdError > 0) {
		return out
	}
	spread, err := r.rateSpread()
	if err != nil {
		return out
	}
	a := Answer{effect: per10(effect)}
	a.Row.Design = string(d)
	used := m.Terms
	if !c.plainCounts {
		a.setEffect()
		a.free(r, m, newCountError(r, recorder, s.Analysis), &warnings{})
		if a.Row.Correction != correctedNone {
			used = append(slices.Clip(used), a.Row.Correction)
		}
	}
	out.rows = h.of(used)
	out.estimate, out.variance = a.effect.Estimate, a.effect.StdError*a.effect.StdError
	out.enough = a.tooLittle(r, s, spread) == ""
	return out
}

// rowsHash is of everything that a fit may rest on: the rows, and each of the
// terms laid out over them.
type rowsHash struct {
	rows  uint64
	terms map[string]uint64
}

func (r *rows) hash() rowsHash {
	var buffer []byte
	sum := func() uint64 {
		h := fnv.New64a()
		h.Write(buffer) // never fails
		buffer = buffer[:0]
		return h.Sum64()
	}
	number := func(v float64) { buffer = binary.LittleEndian.AppendUint64(buffer, math.Float64bits(v)) }
	number(r.lnTauSE)
	number(r.lnTauDF)
	for i := range r.cost {
		number(r.cost[i])
		number(r.lnSpeed[i])
		number(r.rate[i])
		number(r.costByLnTau[i])
		number(float64(r.session[i]))
	}
	out := rowsHash{rows: sum(), terms: map[string]uint64{}}
	for k, term := range r.terms {
		buffer = append(buffer, term...)
		for _, v := range r.columns[k] {
			number(v)
		}
		out.terms[term] = sum()
	}
	return out
}

// of is the hash of a model of the terms; those of the rate, which follow from
// the rows, go by name.
func (h rowsHash) of(terms []string) uint64 {
	sum := fnv.New64a()
	var buffer []byte
	buffer = binary.LittleEndian.AppendUint64(buffer, h.rows)
	for _, term := range terms {
		if known, ok := h.terms[term]; ok {
			buffer = binary.LittleEndian.AppendUint64(buffer, known)
			continue
		}
		buffer = append(append(buffer, term...), 0)
	}
	sum.Write(buffer) // never fails
	return sum.Sum64()
}
