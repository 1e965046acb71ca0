// Package measurement corrects slopes and curves for error in the column they are
// drawn along.
//
// Where w = x + u is observed for the true x, with u of known standard deviation and
// independent of everything else, the slope of a response on w is flatter than that
// on x by the reliability ratio (given the other columns), and the turning point of a
// quadratic drifts (Fuller 1987, Measurement Error Models; Carroll et al. 2006,
// Measurement Error in Nonlinear Models). Two corrections:
//
//   - [SIMEX] adds more error on purpose, watches the estimates drift, and
//     extrapolates back to none (Cook and Stefanski 1994). It works for any estimator.
//   - [Calibrate] replaces w by what is expected of x given w (regression
//     calibration, Carroll and Stefanski 1990).
//
// [CorrectCurve] and [CalibrateCurve] do it for a line or a quadratic, whose turning
// point is computed from the corrected coefficients, never itself extrapolated.
// [BootstrapCurve] resamples clusters through the whole correction.
//
// A correction rests on the error's standard deviation: half of it wrong makes the
// correction wrong by as much. Give the plain estimate beside the corrected one.
package measurement
