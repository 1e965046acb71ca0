// Package squad simulates a swimming squad whose truth is known: who the
// swimmers are, what a higher or lower stroke rate really costs each of them,
// what they swam, and what a watch, a stopwatch and a heart-rate strap made of
// it. It is the world outside the pipeline, on which the pipeline is judged; it
// therefore imports nothing of the pipeline and none of its statistics.
//
// # Equations
//
// Symbols: v speed (m/s), R whole-length stroke rate (arm strokes/min), D
// distance per stroke (m), x = ln(v/vRef) with vRef the swimmer's reference
// speed, r = ln(R/Rusual(v)) with Rusual(v) the rate this swimmer takes at that
// speed when left alone, m minutes since the session began.
//
//	Rusual(v) = RateRef (v/vRef)^RateExponent
//	H_ss      = Base + Session + PaceSlope x + PaceCurve x^2 + Drift ln(1+m)
//	            + f(r, x) + Fatigue + Kick + Change + Noise
//	f(r, x)   = Slope r + Curve (r^2 - 2 r best(x)),  best(x) = BestLn + BestShift x
//
// Session is noise about a straight line over the season, and may take after
// the session before (first-order autoregressive).
//
// f is zero at the usual rate at every pace, so PaceSlope and PaceCurve describe
// the cost of speed at the usual rate. A linear truth has Curve = 0; a swimmer
// with a cheapest rate has Slope = 0 and Curve > 0, and the cheapest rate is
// Rusual(v) exp(best(x)), which moves with pace in both factors.
//
// Fatigue grows in a straight line over the bouts of a session to a size drawn
// for that session (exponential, mean and standard deviation FatigueSDBPM). It
// adds to heart rate always, and to r (FatigueRatePerBPM) only where the rate
// was left to the swimmer: that is the confounding which observed bouts carry
// and designed bouts do not.
//
// # Swimming
//
// A bout of n lengths of L metres takes T = nL/v seconds. After each push-off
// the swimmer glides GlideMetres at GlideSpeedRatio times v without stroking,
// and strokes at the clean rate for the rest of the length, so
//
//	R = Rclean (1 - GlideMetres/(GlideSpeedRatio L)),   D = 60 v/R
//
// and v = R D/60 holds exactly for every bout. Strokes in a length are whole:
// the stroke under way at the wall counts in the length in which it ends, its
// remainder is carried into the next length, so a bout's total is within one
// stroke of RT/60 however many lengths it has. A wrist watch counts entries of
// one arm: half the arm strokes, with the parity carried likewise. Counting
// errors fall on single strokes (missed or added) with a bias that stays with
// the swimmer.
//
// # Heart rate
//
// Heart rate follows first-order kinetics towards H_ss during a bout and towards
// the recovery value during a rest, both with the swimmer's tau:
//
//	H(t) = H_ss + (H_0 - H_ss) exp(-t/tau)
//
// Samples add a slow wander (first-order autoregressive) and white noise.
//
// # Determinism
//
// Everything follows from Scenario.Seed. Each swimmer, and within a swimmer each
// session and purpose (plan, counts, lengths, heart rate), has a random stream of
// its own: adding a swimmer, or leaving lengths or samples out, changes no other
// number.
package squad
