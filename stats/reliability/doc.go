// Package reliability says how well a measurement repeats: how far one reading
// of a subject lies from the next (typical error), how large a change must be to
// be seen (minimal detectable change), and how well readings tell subjects apart
// (intraclass correlation).
//
// [Intraclass] gives the six coefficients of Shrout and Fleiss for a complete
// table of subjects by trials; [Retest] and [TypicalErrorOf] what Hopkins (2000)
// derives from one; [OneWay], [Consistency] and [Agreement] the same by variance
// components when subjects were measured unequally often.
//
// The models, with subject s and trial t:
//
//	one way      y = mu + u_s + e
//	consistency  y = mu + u_s + trial_t (fixed) + e
//	agreement    y = mu + u_s + v_t (random) + e
//
// with u, v and e independent and normal. Intervals rest on that normality and
// on the independence of the readings given the subject and trial. An intraclass
// correlation depends on how far the subjects at hand differ; the typical error
// does not, and carries over to other subjects measured in the same way.
package reliability
