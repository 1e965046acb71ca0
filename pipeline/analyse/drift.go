package analyse

// driftTerms says how cost may drift through a session whatever is swum. The
// zero value is the study's own term.
type driftTerms int

const (
	driftLog    driftTerms = iota // ln(1 + minutes)
	driftNone                     // no drift
	driftLinear                   // minutes
	driftBoth                     // both
)

// terms names the drift's terms.
func (d driftTerms) terms() []string {
	switch d {
	case driftNone:
		return nil
	case driftLinear:
		return []string{termClock}
	case driftBoth:
		return []string{termMinutes, termClock}
	}
	return []string{termMinutes}
}

// String names the drift as tables do.
func (d driftTerms) String() string {
	return [...]string{"ln-minutes", "none", "minutes", "both"}[d]
}
