package run

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// Spreads are what a finished study knows of how its numbers scatter, for planning
// another; 0 where it does not know.
type Spreads struct {
	Noise        float64 // of bouts about their session's, median of swimmers
	Spread       float64 // of swimmers' own effects per 10 %, between them
	SessionNoise float64 // of sessions at one pace, typical error of the squad
	OwnRatePct   float64 // of rates at a fixed pace that nobody set, %
}

// Components reads them from a study's tables.
func Components(s *study.Study) (Spreads, error) {
	folder := s.Path(s.Output)
	if _, err := ReadRecord(folder); err != nil {
		return Spreads{}, err
	}
	path := func(name string) string { return filepath.Join(folder, tablesFolder, table.TableFile(name)) }
	fits, err := table.ReadRows[schemas.Fit](path("fits"))
	if err != nil {
		return Spreads{}, fmt.Errorf("table fits: %w", err)
	}
	overall, err := table.ReadRows[schemas.ScoreOverall](path("score_overall"))
	if err != nil {
		return Spreads{}, fmt.Errorf("table score_overall: %w", err)
	}
	reliability, err := table.ReadRows[schemas.Reliability](path("reliability"))
	if err != nil {
		return Spreads{}, fmt.Errorf("table reliability: %w", err)
	}
	var sigmas, rates []float64
	for _, f := range fits {
		if f.Sigma != nil {
			sigmas = append(sigmas, *f.Sigma)
		}
		if f.Design == "observed" && f.RateSpread != nil {
			rates = append(rates, 100**f.RateSpread)
		}
	}
	out := Spreads{Noise: middle(sigmas), OwnRatePct: middle(rates)}
	for _, row := range overall {
		if row.Measure == "effect_per_10pct" && row.Tau2 != nil && (row.Design == "designed" || out.Spread == 0) {
			out.Spread = math.Sqrt(*row.Tau2)
		}
	}
	for _, row := range reliability {
		if row.Scope == "squad" && row.TypicalError != nil {
			out.SessionNoise = *row.TypicalError
		}
	}
	return out, nil
}

// middle is the median, 0 of nothing.
func middle(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(values))
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
