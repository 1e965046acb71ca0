// Package association measures how two columns go together: over all rows
// ([Pearson]), and within subjects who differ in level ([RepeatedMeasures]).
//
// [PearsonTest], [SpearmanTest] and [KendallTest] test a correlation, [Partial]
// holds other columns fixed, [WilliamsTest] and [CompareIndependent] compare two
// correlations, [ConcordanceIndex] counts pairs of rows in the same order.
//
// Two kinds of interval are offered. [FisherInterval], and the interval of
// RepeatedMeasures made by it, take rows as independent given their subject.
// Where rows come in sessions and rows of a session share their errors, they
// cover too little; [RepeatedMeasuresResampled] and [PearsonResampled]
// resample whole sessions instead.
//
// Results depend only on which rows belong together: neither the order of
// rows, sessions and subjects nor their labels changes any bit.
package association
