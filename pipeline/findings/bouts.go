package findings

import (
	"slices"
	"strings"

	"lengthwise/schemas"
)

// BoutCounts is what sentences need to know of the bouts as a whole. All but
// Bouts and Unusable count usable bouts only.
type BoutCounts struct {
	Bouts    int // all, usable or not
	Usable   int
	Designed int // rate or instruction set beforehand

	Strap, Optical, Palpated, SourceUnknown int // where the heart rate came from
	Kinetics, Reported                      int // read from how samples rise; an end reading
	OxygenOnly                              int // a lab's cost without lactate
	BasisUnknown                            int // it is not known what the recorder counts
	BeyondMaximum                           int // above the highest heart rate that the roster gives

	Unusable []ReasonCount // bouts left out by reason, the commonest first
}

// ReasonCount is how many bouts one reason kept out of the models.
type ReasonCount struct {
	Reason string // as the rows spell it
	About  string // in words
	Bouts  int
}

// CountBouts counts the rows of the table bouts.
func CountBouts(bouts []schemas.Bout) BoutCounts {
	var c BoutCounts
	reasons := map[string]int{}
	for _, b := range bouts {
		c.Bouts++
		if !b.Usable {
			reason := "not-stated"
			if b.Reason != nil {
				reason = *b.Reason
			}
			reasons[reason]++
			continue
		}
		c.Usable++
		if b.Designed {
			c.Designed++
		}
		if b.StrokeCountBasis == "unknown" {
			c.BasisUnknown++
		}
		if b.HRReserve != nil && *b.HRReserve > 1 {
			c.BeyondMaximum++
		}
		if b.CostStratum != nil && *b.CostStratum == "lab/oxygen" {
			c.OxygenOnly++
		}
		if b.HRMethod != nil {
			switch *b.HRMethod {
			case "kinetics":
				c.Kinetics++
			case "reported":
				c.Reported++
			}
		}
		if b.HRSource == nil {
			continue
		}
		switch *b.HRSource {
		case "strap":
			c.Strap++
		case "optical":
			c.Optical++
		case "palpated":
			c.Palpated++
		default:
			c.SourceUnknown++
		}
	}
	for reason, n := range reasons {
		c.Unusable = append(c.Unusable, ReasonCount{Reason: reason, About: aboutReason(reason), Bouts: n})
	}
	c.sort()
	return c
}

// Add joins the counts of other bouts to these.
func (c *BoutCounts) Add(other BoutCounts) {
	c.Bouts += other.Bouts
	c.Usable += other.Usable
	c.Designed += other.Designed
	c.Strap += other.Strap
	c.Optical += other.Optical
	c.Palpated += other.Palpated
	c.SourceUnknown += other.SourceUnknown
	c.Kinetics += other.Kinetics
	c.Reported += other.Reported
	c.OxygenOnly += other.OxygenOnly
	c.BasisUnknown += other.BasisUnknown
	c.BeyondMaximum += other.BeyondMaximum
	unusable := slices.Clone(c.Unusable)
	for _, o := range other.Unusable {
		if i := slices.IndexFunc(unusable, func(r ReasonCount) bool { return r.Reason == o.Reason }); i >= 0 {
			unusable[i].Bouts += o.Bouts
		} else {
			unusable = append(unusable, o)
		}
	}
	c.Unusable = unusable
	c.sort()
}

func (c *BoutCounts) sort() {
	slices.SortFunc(c.Unusable, func(a, b ReasonCount) int {
		if a.Bouts != b.Bouts {
			return b.Bouts - a.Bouts
		}
		return strings.Compare(a.Reason, b.Reason)
	})
}

// aboutReason puts a bout's reason into words; one without words of its own is
// shown as the row spells it.
func aboutReason(reason string) string {
	switch reason {
	case "strokes-missing":
		return "at least one of its lengths has no stroke count"
	case "no-strokes":
		return "no strokes were counted, as with kicking"
	case "too-short":
		return "too short for heart rate to say anything of its cost"
	case "no-heart-rate":
		return "no heart rate was recorded with it"
	case "no-heart-rate-at-end":
		return "no heart rate at its end"
	case "no-kinetics":
		return "its samples do not show how heart rate rose"
	case "other-heart-rate-source":
		return "heart rate from another source than the study file asks for"
	case "no-oxygen-uptake":
		return "no oxygen uptake was noted with it"
	case "no-exertion-rating":
		return "no rating of exertion"
	case "no-resting-heart-rate":
		return "the roster gives no resting heart rate for the swimmer"
	case "no-maximum-heart-rate":
		return "the roster gives no highest heart rate for the swimmer"
	}
	return strings.ReplaceAll(reason, "-", " ")
}
