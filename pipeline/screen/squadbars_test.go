package screen

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"lengthwise/datasets/faults"
	"lengthwise/pipeline/study"
)

// trainingSessions is how many sessions of each kind of training are simulated.
const trainingSessions = 100

// training is what became of one kind of training's clean sessions.
type training struct{ lengths, samples tally }

// measureTrainings screens clean sessions of every kind of training.
func measureTrainings(t *testing.T, first uint64, settings study.Screen) []training {
	all := faults.Trainings()
	out := make([]training, len(all))
	var jobs []func()
	for i, kind := range all {
		jobs = append(jobs, func() {
			x := training{tally{touched: map[string]int{}}, tally{touched: map[string]int{}}}
			for n := range uint64(trainingSessions) {
				s := faults.SimulateTraining(first+uint64(10_000*i)+n, kind, faults.Clean, 0, 0)
				screened, entries := screenedAlone(t, &s, settings)
				x.lengths.add(&s, faults.Clean, false, &screened, entries)
				x.samples.add(&s, faults.Clean, true, &screened, entries)
			}
			out[i] = x
		})
	}
	inParallel(jobs)
	return out
}

// trainingTable puts down which clean lengths were touched, training by
// training.
func trainingTable(trainings []training) string {
	var b strings.Builder
	b.WriteString("| training | clean lengths | touched | by rule | heart-rate samples | touched |\n|---|---|---|---|---|---|\n")
	for i, kind := range faults.Trainings() {
		x, y := &trainings[i].lengths, &trainings[i].samples
		fmt.Fprintf(&b, "| %s | %d | %.3f %% | %s | %d | %.4f %% |\n", kind, x.untouched, 100*x.share(), byRule(x.touched), y.untouched, 100*y.share())
	}
	return b.String()
}

// share is the share of the clean records that were touched.
func (t *tally) share() float64 { return float64(t.touches()) / float64(t.untouched) }

func byRule(touched map[string]int) string {
	var by []string
	for rule, n := range touched {
		by = append(by, fmt.Sprintf("%s %d", rule, n))
	}
	slices.Sort(by)
	return strings.Join(by, ", ")
}
