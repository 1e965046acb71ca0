// Package faults simulates pool sessions as recorders tell them, with faults
// planted one kind and one size at a time and the truth beside every length and
// heart-rate sample. The screening rules are judged on it.
//
// It is a second simulator on purpose. Package squad answers what a stroke
// costs and needs a body; this one needs a training session in all its variety
// and the ways in which recordings of it go wrong, and it was written from notes
// on real recordings, not from the rules that it judges. It imports nothing: not
// the pipeline, not squad.
//
// # A session without faults
//
// A swimmer (speed, distance per stroke, steadiness, how rate follows speed)
// swims a plan of sets: repeats, descending sets, builds, fast and easy by
// lengths, medleys, strokes by turns, long swims, sprints, sets with few strokes
// or with pulling gear, drills typed in by hand. Two thirds of the pools are
// 25 m, the rest 50 m and 33.3 m. A recorder then makes lengths of it:
//
//	recorded time   = time + turn jitter - wall time left out, rounded to 0.01, 0.1 or 1 s
//	recorded count  = whole strokes of one arm (a wrist) or both (a sheet), now and then one off
//	recorded stroke = the stroke, now and then another one
//
// Wherever the recorder was merely imprecise, the length counts as clean.
//
// [SimulateTraining] gives sessions as squads swim them, each hard in its own way:
// medleys, drills by lengths, kick sets, sprints inside endurance sets, learners,
// sprinters, pools of 20 m and 25 yards. [SimulateSeries] gives several sessions of
// one swimmer.
//
// # Faults
//
// [Kinds] lists them with their grades. Size is in the kind's own unit; Notice
// marks the grades at which a coach who looks at the list of lengths would see
// that something is wrong. What is noticed was settled before any rule was
// measured, without a source: it is our judgement of what a coach sees.
//
// Faults fall on lengths before the recorder's rounding and counting, as they do
// in the pool. Several faults of a session never touch each other.
package faults
