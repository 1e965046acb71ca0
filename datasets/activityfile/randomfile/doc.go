// Package randomfile makes random activity files with any of the quirks of
// [lengthwise/datasets/activityfile], and counts what a file holds straight from
// its bytes: a second road beside whatever reads them.
package randomfile
