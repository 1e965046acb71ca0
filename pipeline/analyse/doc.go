// Package analyse asks the study's questions of the bouts, one file a
// question: does the score track what a swim costs this swimmer (swimmer.go),
// and the squad (squad.go), raw, at matched pace and between swimmers.
//
// Observed and designed bouts are never mixed in one answer without saying so:
// each question is answered for the bouts that swimmers swam as they liked
// (observed), for those whose rate or instruction was set beforehand
// (designed), and for all of them together.
//
// Nothing here depends on what swimmers are called: random numbers are seeded
// by the study's seed, the question and the swimmer's data, and sums over
// swimmers run in an order that their data fix.
package analyse

// Design says which bouts an answer rests on.
type Design string

// The designs.
const (
	Observed Design = "observed" // swum as the swimmer liked: earns "goes together with"
	Designed Design = "designed" // rate or instruction set beforehand: earns "costs"
	All      Design = "all"      // both together: read like observed
)

// Designs lists the designs in the order of the tables.
func Designs() []Design { return []Design{Observed, Designed, All} }

// Verdict is the answer for one swimmer.
type Verdict string

// The five verdicts. The score claims that fewer strokes are cheaper, which
// is a positive effect of stroke rate on cost at a fixed pace.
const (
	Tracks          Verdict = "tracks"           // q < 0.05 and the effect is above zero
	RunsAgainst     Verdict = "runs-against"     // q < 0.05 and the effect is below zero
	PracticallyNone Verdict = "practically-none" // inside +-smallest_effect by two one-sided tests
	Undecided       Verdict = "undecided"
	TooLittleData   Verdict = "too-little-data"
)

const (
	level = 0.95 // of every interval
	alpha = 0.05 // of every test

	// FewestDF is the fewest Satterthwaite degrees of freedom with which a
	// CR2 test keeps its level (Tipton 2015 advises four).
	FewestDF = 4
)
