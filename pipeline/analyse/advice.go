package analyse

import (
	"fmt"
	"math"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/association"
	"lengthwise/stats/concordance"
	"lengthwise/stats/resample"
)

// How advice is put to the test, as the tables spell it.
const (
	testAsSwum       = "as-swum"       // pairs of a session across paces, cost as it was read
	testPaceAdjusted = "pace-adjusted" // the same pairs, cost less what pace and minutes account for
	testMatchedPace  = "matched-pace"  // pairs at a matched pace, score and cost both adjusted
	testHeldOut      = "held-out"      // sessions that took no part in finding the score's weight
	testBetween      = "between"       // swimmers, each at their usual paces
)

// What is measured of advice.
const (
	measureAgreement    = "agreement"              // share of pairs in which the advised bout is the cheaper one
	measureWithCount    = "correlation_with_count" // of the score with the stroke count at fixed pace
	measureSkill        = "skill"                  // squared error saved over the session's mean
	measureEitherWay    = "skill_either_way"       // the same, the score free to point against its claim
	measureOverPace     = "skill_over_pace"        // ... over pace alone
	measureAddedToPace  = "skill_added_to_pace"    // ... by adding the score to pace and minutes
	measureRank         = "rank_skill"             // held-out pairs in the right order less those in the wrong one
	measureCorrelations = "correlation"            // over swimmers
)

// advice is what one swimmer's bouts say for one stroke and design of each
// score taken as advice.
type advice struct {
	swimmer, stroke string
	design          Design
	content         uint64
	bouts, sessions int32
	missing         string // why the advice could not be tested, "" when it was
	results         []adviceResult
	warnings        string
	pooledOver      keyCounts
	usual           []float64 // each advisor's mean dearness over steady bouts, NaN without
	usualCost       float64
}

type adviceResult struct {
	advisor, test, measure string
	pairs                  int32
	estimate               float64
	interval               resample.RatioInterval // NaN where there is none
}

// Advise tests every score as advice on one swimmer's bouts: observed and
// designed bouts apart, every stroke of the study.
func Advise(bouts []derive.Bout, s *study.Study) []advice {
	var out []advice
	for _, stroke := range s.Analysis.Strokes {
		everything, _ := usable(bouts, stroke, All)
		usual := newUsualRate(everything, referenceSpeed(everything, s))
		for _, d := range []Design{Observed, Designed} {
			picked, _ := usable(bouts, stroke, d)
			if len(picked) > 0 {
				out = append(out, adviseOn(picked, bouts[0].Swimmer, stroke, d, usual, s))
			}
		}
	}
	return out
}

func adviseOn(picked []*derive.Bout, swimmer, stroke string, d Design, usual usualRate, s *study.Study) advice {
	counted, uncounted := knownBasis(picked)
	kept, _ := informative(counted)
	r := newRows(kept, usual, s, d)
	a := advice{
		swimmer: swimmer, stroke: stroke, design: d, bouts: int32(len(kept)), sessions: int32(r.sessions), pooledOver: countKeys(kept),
		content: resample.SeedOf(s.Seed, "advice/"+stroke+"/"+string(d), r.cost, r.lnSpeed, r.lnRate, r.lnMinutes),
	}
	var w warnings
	w.design(d)
	if uncounted > 0 {
		w.add("counting basis unknown in " + count(uncounted, "bout") + ", left out")
	}
	a.warnings = w.String()
	a.setUsual(counted, s)
	switch {
	case s.Cost.Measure == "net-beats":
		a.missing = "net beats per 100 m and the scores both hold the seconds"
	case r.sessions < s.Analysis.MinSessions:
		a.missing = fmt.Sprintf("fewer than %d sessions with two bouts or more", s.Analysis.MinSessions)
	case len(kept) < s.Analysis.MinBouts:
		a.missing = fmt.Sprintf("fewer than %d usable bouts", s.Analysis.MinBouts)
	default:
		if err := a.test(r, s); err != nil {
			a.missing = "no test: " + plain(err)
		}
	}
	return a
}

func knownBasis(bouts []*derive.Bout) (known []*derive.Bout, unknown int) {
	for _, b := range bouts {
		if b.Basis != study.UnknownBasis {
			known = append(known, b)
		}
	}
	return known, len(bouts) - len(known)
}

// setUsual takes the means over steady bouts, for the comparison of swimmers.
func (a *advice) setUsual(bouts []*derive.Bout, s *study.Study) {
	list := advisors()
	a.usual, a.usualCost = make([]float64, len(list)), math.NaN()
	n := 0.0
	var cost float64
	for _, b := range bouts {
		if !derive.SteadyStratum(b.CostStratum) {
			continue
		}
		n++
		cost += b.Cost
		for k, adv := range list {
			a.usual[k] += adv.dearness(b)
		}
	}
	if n == 0 {
		a.usual = nil
		return
	}
	a.usualCost = cost / n
	for k := range a.usual {
		a.usual[k] /= n
	}
}

// ratioResult is a result before its interval: all intervals of a swimmer come
// from the same resampled sessions.
type ratioResult struct {
	adviceResult
	ratio      resample.Ratio
	complement bool // the result is 1 less the ratio
}

// test fills in the results of every advisor.
func (a *advice) test(r *rows, s *study.Study) error {
	adjustedCost, err := r.adjusted(r.cost)
	if err != nil {
		return err
	}
	count, err := r.adjusted(r.lnStrokes)
	if err != nil {
		return err
	}
	plainCount, err := r.adjusted(dearnessOf(r, advisors()[2]))
	if err != nil {
		return err
	}
	across, errAcross := concordance.NewPairs(r.session, r.comparable)
	matched, errMatched := concordance.NewPairs(r.session, func(i, j int) bool {
		return r.comparable(i, j) && math.Abs(r.lnSpeed[i]-r.lnSpeed[j]) <= s.Analysis.MatchedPace
	})
	var ratios []ratioResult
	for _, adv := range advisors() {
		dear := dearnessOf(r, adv)
		if errAcross == nil {
			ratios = a.agree(ratios, adv, testAsSwum, across, r, dear, r.cost)
			ratios = a.agree(ratios, adv, testPaceAdjusted, across, r, dear, adjustedCost)
		}
		if adv.name == speedAdvisor {
			continue
		}
		fixed, err := r.adjusted(dear)
		if err != nil {
			continue
		}
		if errMatched == nil {
			ratios = a.agree(ratios, adv, testMatchedPace, matched, r, fixed, adjustedCost)
		}
		same := plainCount
		if adv.logarithm {
			same = count
		}
		if c, err := association.Pearson(fixed, same); err == nil {
			a.results = append(a.results, adviceResult{advisor: adv.name, test: testMatchedPace, measure: measureWithCount,
				estimate: c, interval: none()})
		}
	}
	skill, err := r.skill()
	if err != nil {
		return err
	}
	ratios = append(ratios, skill...)
	plain := make([]resample.Ratio, len(ratios))
	for i, one := range ratios {
		plain[i] = one.ratio
	}
	intervals, err := resample.Ratios(plain, resample.Options{Replicates: s.Analysis.Resamples, Level: level,
		Seed: resample.SeedOf(s.Seed, "advice", r.cost, r.lnSpeed, r.lnRate)})
	if err != nil {
		return err
	}
	for i, one := range ratios {
		result := one.adviceResult
		result.estimate, result.interval = one.ratio.Estimate(), intervals[i]
		if one.complement {
			result.estimate = 1 - result.estimate
			result.interval.Low, result.interval.High = 1-result.interval.High, 1-result.interval.Low
		}
		if !math.IsNaN(result.estimate) {
			a.results = append(a.results, result)
		}
	}
	return nil
}

func none() resample.RatioInterval {
	return resample.RatioInterval{Low: math.NaN(), High: math.NaN(), StdError: math.NaN()}
}

func dearnessOf(r *rows, adv advisor) []float64 {
	out := make([]float64, len(r.bouts))
	for i, b := range r.bouts {
		out[i] = adv.dearness(b)
	}
	return out
}

// comparable says whether two bouts of a session may be set against each
// other: read, kicked, equipped and set alike, in one pool.
func (r *rows) comparable(i, j int) bool {
	x, y := r.bouts[i], r.bouts[j]
	return x.PoolM == y.PoolM && x.CostStratum == y.CostStratum && x.Designed == y.Designed &&
		x.Tags.Kick == y.Tags.Kick && x.Tags.Equipment == y.Tags.Equipment
}

// agree counts how often the bout that the advisor prefers is the cheaper one.
func (a *advice) agree(ratios []ratioResult, adv advisor, test string, pairs *concordance.Pairs, r *rows, dear, cost []float64) []ratioResult {
	tally, err := pairs.Count(dear, cost, tieTolerance)
	if err != nil {
		return ratios
	}
	ratio := resample.Ratio{Num: make([]float64, r.sessions), Den: make([]float64, r.sessions)}
	for k, session := range tally.Blocks {
		ratio.Num[session] = tally.Concordant[k] + tally.Tied[k]/2
		ratio.Den[session] = tally.Concordant[k] + tally.Discordant[k] + tally.Tied[k]
	}
	return append(ratios, ratioResult{
		adviceResult: adviceResult{advisor: adv.name, test: test, measure: measureAgreement, pairs: int32(pairs.Len())}, ratio: ratio,
	})
}
