// Package linear fits linear models by least squares and gives standard errors
// that hold when rows differ in spread or belong together in clusters.
//
// The model is
//
//	y = X b + G a + e,   Var(e) = sigma^2 W^-1
//
// with y of n rows, X of p columns, an optional set G of group indicators
// whose effects are absorbed (each column and y are centred within the groups,
// which by the theorem of Frisch, Waugh and Lovell leaves b and the residuals
// as they would be with the indicators written out), and W a diagonal of known
// weights, all 1 when none are given.
//
// [Fit] gives the estimates. The covariance of the estimates is asked for
// separately, because the same fit answers under several assumptions:
//
//   - [Model.Classical]: Var(e) is as stated above.
//   - [Model.Heteroscedastic]: rows independent, each with its own variance
//     (White 1980; MacKinnon and White 1985).
//   - [Model.Clustered]: rows of one cluster may depend on each other in any
//     way (Liang and Zeger 1986), with the bias-reduced form and the
//     Satterthwaite degrees of freedom of Bell and McCaffrey (2002) and
//     Pustejovsky and Tipton (2018), which keep their promise with few clusters.
//
// [Model.Wald] and [Model.WaldClustered] test several constraints at once.
// [Robust] and [TheilSen] fit lines that single wild rows do not move.
//
// [Model.Coefficients] turns estimates and a covariance into statistics,
// p-values and intervals by Student's t. [Model.PartialCorrelation],
// [RobustnessValue], [AsStrongAs], [TwoOneSided] and [Model.WithoutGroups] answer what is
// usually asked next.
//
// # Numerics
//
// The columns are scaled by powers of two and orthogonalised twice over
// (Gram-Schmidt with reorthogonalisation, "twice is enough": Daniel, Gragg,
// Kaufman and Stewart 1976; Giraud et al. 2005), column by column from the
// left, so a column that depends on those before it is the one dropped. The
// solution is then refined on the augmented system of Björck (1967) with
// residuals accumulated to twice the working precision. Sums run in a fixed
// order: the same input gives the same bits.
//
// A Model is not changed after Fit and may be used by several goroutines.
package linear
