// Package concordance compares pairs of rows within blocks: in how many of
// the pairs do two columns differ in the same direction?
//
// A pair of rows of one block is concordant when both columns differ in the
// same direction, discordant when in opposite directions, and tied when either
// does not differ; a tie counts half. The estimate is
//
//	(C + T/2) / (C + D + T),
//
// one half when the columns have nothing to do with each other. It is the
// concordance index of Harrell et al. (1982, JAMA 247:2543) with pairs
// compared within blocks only.
//
// [NewPairs] lists the pairs once; they are then counted for as many columns
// as there are ([Pairs.Count]) and against permutations ([Pairs.Null]).
// [Count] does both steps for one use. Columns that
// depend on a third one must be adjusted for it by the caller beforehand: the
// package compares the values it is given.
//
// [Tally.Interval] gives a confidence interval from blocks, [CommonVariances] the
// variances by which the estimates of several subjects are pooled. With 20 to 40
// subjects whose true concordances lie about 0.50, 0.65 or 0.80 and differ from block
// to block (2,000 sets each, stats/testdata/coverage.md), nominal 95 % intervals cover
//
//	blocks each                      2             3             4             6 to 12
//	one subject, Tally.Interval      0.941-0.949   0.953-0.957   0.951-0.954   0.945-0.952
//	mean, REML and Hartung-Knapp     0.939-0.948   0.937-0.951   0.945-0.949   0.941-0.958
//	variance over subjects           0.870-0.901   0.913-0.933   0.927-0.943   0.939-0.960
//
// the last by the Q-profile of package pooled, too narrow below six blocks.
//
// Nothing depends on the order of the rows or the labels of the blocks: what
// is drawn at random is laid out by the values themselves.
package concordance
