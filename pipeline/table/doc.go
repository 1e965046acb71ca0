// Package table writes, reads, checks and prints the tables that a study
// publishes. It is the only package that knows Parquet and, through its
// subpackage arrowstream, Arrow.
//
// # Writing
//
// [Write] and [Writer] turn rows of one struct of package schemas into one
// Parquet file: zstd, row groups of at most [RowsPerGroup] rows, the table's
// name, meaning, units and keys in the file's key-value metadata, and nothing
// that differs between two runs (no time, no run id, no path). The same rows
// give the same bytes however they are handed over. A value that a table must
// not carry (NaN, an infinity, text that is not UTF-8) is refused with its
// column and row.
//
// # Null, zero and empty
//
// parquet-go v0.32 writes a Go zero as null when a value-type field is marked
// optional. Nullable columns are therefore pointers, required columns are
// values, and [Describe] refuses any other pairing: nil is null, a pointer to
// zero is zero, a pointer to "" is the empty string.
//
// # Reading
//
// [Open] gives a [File]; its columns are read one at a time and row group by
// row group, straight from the column pages, which costs a fraction of
// rebuilding rows. [ReadRows] rebuilds rows on top of that where a stage wants
// them.
//
// # Checking
//
// A [Digest] holds a table's row count, the SHA-256 of its bytes, and one
// canonical SHA-256 a column that depends on the values alone and how they are cut
// into row groups: not on encodings, compression or library versions. [Join] puts
// files together by row groups, as they are. [Verify] reads a
// file back and compares it with the rows that were meant; [VerifyDigest]
// compares it with a digest kept in run.json.
//
// # Publishing
//
// A [Stage] collects a whole result in a folder beside its target and puts it
// in place by renaming, so that the old result is replaced whole or not at
// all; [Recover] settles what a crash left behind. A [Lock] keeps two runs
// from writing the same result at once.
package table
