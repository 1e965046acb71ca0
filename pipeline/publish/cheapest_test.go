package publish

import (
	"strings"
	"testing"

	"lengthwise/pipeline/findings"
	"lengthwise/schemas"
)

// The page says at which rate a pace is cheapest where that is known, for the
// squad and for each swimmer, and says of nobody why it is not.
func TestThePageNamesCheapestRates(t *testing.T) {
	in := invented(6) // the fifth takes medication
	rate := func(swimmer string, named bool) schemas.EconomicalRate {
		r := schemas.EconomicalRate{Swimmer: swimmer, Stroke: "freestyle", Design: findings.Designed, PaceRole: "reference", PaceSPer100M: 81,
			SetType: "bounded", Place: "open", ConfLow: f64(101.2), ConfHigh: f64(107.3), Bouts: 60, Sessions: 8}
		if named {
			r.RatePctOfUsual, r.Place = f64(104.4), "within"
		} else {
			r.Reason = str("the curve is too flat for its errors")
		}
		return r
	}
	in.Findings = findings.Make(findings.Input{Study: in.Study, BySwimmer: in.BySwimmer, Overall: in.Overall, Swimmers: in.Swimmers, Bouts: in.Bouts,
		Economical: []schemas.EconomicalRate{rate("s001", true), rate("s002", false), rate("s005", true)}})
	page := string(render(t, in))
	if n := strings.Count(page, "the cheapest stroke rate for this swimmer is 104.4 % of the usual one"); n != 1 {
		t.Errorf("the named rate stands there %d times, want once: of the first swimmer, not of the one on medication", n)
	}
	if !strings.Contains(page, "a cheapest stroke rate can be named for 1 of 2 swimmers") {
		t.Error("the squad's count is missing")
	}
	for _, hint := range []string{"no rate is named for this swimmer", "too flat"} {
		if strings.Contains(page, hint) {
			t.Errorf("the page by pseudonym holds %q", hint)
		}
	}
}
