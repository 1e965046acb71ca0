// Package heldout measures how well columns foretell a response on groups that
// took no part in finding their weights.
//
// Each group of rows is left out in turn, the weights are found by least
// squares on the other groups, and the squared error is summed over the rows
// left out (Stone 1974, J. R. Stat. Soc. B 36:111-147, with groups for rows).
// There is no intercept: response and columns are centred by the caller, within
// groups or finer, so that the level of a group is nobody's to foretell.
//
// Everything goes by sums and cross-products of groups, so that leaving one out
// is a subtraction. Errors are in the squared unit of the response.
package heldout
