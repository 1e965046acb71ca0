// Package stats is the umbrella for the numerical packages of lengthwise. It
// holds no code of its own.
//
// The packages below it know numbers and nothing of swimming: they take
// slices, return plain values, read and write no files, keep no global state
// and import only gonum and the standard library. Each states the equation it
// computes and where that equation was published, never changes what it is
// given, and answers degenerate input with an error that can be told apart
// with errors.Is, never with a silent NaN.
package stats
