// Package share holds the rules by which a finished study becomes a set that may
// be passed on: fresh pseudonyms, study days for dates, age bands for years of
// birth, groups that are too small suppressed, and a guard that lets no text pass
// that names somebody. It turns rows into rows; the runner reads and writes them.
//
// What the rules give is pseudonymised data of people, not anonymous data: whoever
// knows enough of somebody's training may know their rows again.
package share
