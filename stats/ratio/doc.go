// Package ratio says what is known of a quotient of two estimates: the ratio of
// two means, or the turning point of a quadratic.
//
// With a and b estimates of alpha and beta, approximately normal with a known
// covariance (or one estimated on DF degrees of freedom), the quotient
// theta = alpha/beta has no moments, and an interval built from a standard error
// ([Delta]) fails when the denominator is near zero. Fieller's set ([Fieller])
// asks instead which theta are compatible with a - theta b being zero, which is
// linear in the estimates and so keeps its level:
//
//	S = { theta : (a - theta b)^2 <= t^2 (v_aa - 2 theta v_ab + theta^2 v_bb) }
//
// (Fieller 1940, Suppl. J. R. Stat. Soc. 7:1-64; 1954, J. R. Stat. Soc. B
// 16:175-185). The set is an interval when the denominator differs from zero at
// the level, and otherwise two rays or the whole line: the data then do not
// bound the quotient, and no honest interval of finite length exists (Gleser
// and Hwang 1987, Annals of Statistics 15:1351-1362). It is never empty.
//
// A set must be counted, reported and stored as it is. Keeping only the sets
// that came out as intervals breaks the level.
package ratio
