// Package kinetics fits first-order responses that share a time constant:
//
//	y_i(t) = steady_i + (start_i - steady_i) exp(-t/tau) + error
//
// for bouts i = 1 ... m, t counted from the beginning of the bout. The steady level
// that a short bout does not reach is then read from its approach, and bouts that
// say little of tau borrow it from the others. [FitShared] fits by variable
// projection: given tau the model is linear, so the search is in tau alone and
// covers the whole range.
//
// For many bouts there is the cheaper way of two passes: a [Grid] of time constants at
// which each bout's samples are summed up once ([Grid.Profile]), the tau that all share
// from these sums ([Grid.Estimate]), and the levels that go with any tau chosen then
// ([Grid.At]). Samples need not be kept. [FitShared] is its check.
//
// Because tau is shared, the errors of all steady levels hang together; the full
// covariance is given. [SteadyFromWindow] corrects the mean of a window in a bout
// without samples by a tau that is known.
//
// Where the samples do not say what tau is, there is no fit but a
// *[NotIdentifiedError] with what is known. A prior for ln tau, such as the spread
// of tau between others of the kind, may settle it.
package kinetics
