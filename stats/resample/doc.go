// Package resample draws bootstrap samples of clusters, turns the replicates of a
// statistic into an interval, and makes randomisation tests.
//
// The steps, in order:
//
//  1. [SeedOf] (or [Seed]) makes a seed from a study's seed, the name of the
//     question and the data themselves, so that a result depends on nothing
//     else: no clock, no worker number, no label of a row.
//  2. [Clusters], [WithinGroups] or [GroupsThenWithin] lays down a [Plan].
//     Replicate b of a plan depends only on the seed and on b, so replicates
//     may be computed in any order or by any number of workers.
//  3. [Plan.Weights] says how often each cluster was drawn. A statistic that
//     is a function of sums over clusters is then a weighted sum, and no row
//     is copied.
//  4. [Percentile] or [BCa] (or [Basic], [Normal]) makes the interval, [StdError] the standard
//     error.
//
// [Randomise] tests whether an assignment drawn by lot made a difference, over the
// assignments of a [Design], and states the smallest p-value it could have given.
//
// Resampling whole clusters rather than rows keeps the dependence of rows
// within a cluster (Davison and Hinkley 1997, Bootstrap Methods and their
// Application, section 3.8). With few clusters every such interval is too
// narrow: the package's tests measure by how much for a mean.
package resample
