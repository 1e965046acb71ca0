// Package trial runs the study's own stages on simulated squads of known
// truth, in memory, and scores the answers: right and wrong verdicts, coverage
// of intervals, concordance where nothing is there. What the method can and
// cannot do is measured here before anybody trusts it.
package trial
