// Package pooled combines k estimates of the same kind, each with its
// sampling variance, into one by the random-effects model
//
//	y_i = mu + u_i + e_i,   u_i ~ N(0, tau2),   e_i ~ N(0, v_i), v_i known.
//
// [Fit] does all of it. The between-variance tau2 is estimated first, by one
// of eight methods ([Method]); mu is the mean weighted by 1/(v_i + tau2); its
// standard error and reference distribution are chosen by [Test].
//
// [Regress] explains differences between the estimates by columns, [LeaveOneOut]
// shows which estimates decide the result, [RobustMean] and [Regression.Robust]
// allow for dependence between estimates and for wrong variances.
//
// With a handful of estimates the plain normal interval is too narrow.
// [HartungKnapp] with [REML] is the usual remedy (IntHout, Ioannidis and Borm
// 2014, BMC Medical Research Methodology 14:25).
package pooled
