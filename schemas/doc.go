// Package schemas holds one Go struct for each table that a study publishes.
//
// The structs are the only place where a column's name, type, unit and
// meaning are written down; the Parquet files, their metadata, the codebook
// and the terminal's descriptions are all made from them. The package imports
// nothing.
//
// Each field carries three tags:
//
//	parquet  the column's name on disk and its encoding (parquet-go's tag)
//	unit     the unit, as a UCUM-like code; absent where there is none
//	about    what the column means, one sentence
//
// A column that can be missing is a pointer with the parquet option
// "optional": nil is null, and a pointer to zero is a recorded zero. Columns
// are only of types that every Parquet reader has: string, boolean, int32,
// int64, double and UTC timestamps in milliseconds.
package schemas
