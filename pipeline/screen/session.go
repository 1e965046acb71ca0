// Package screen applies the quality rules: each keeps, repairs or excludes a
// record and says so in the ledger. Recorded values are never lost.
package screen

import (
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
)

// Session is a session after screening.
type Session struct {
	normalise.Session // its Lengths, Rests and Samples are those before screening
	Kept              []Length
	KeptSamples       []normalise.Sample
	Lineage           []Link
}

// Length is a length that is used.
type Length struct {
	normalise.Length
	Ordinal  int    // from 1 within the session
	Rule     string // the rule that repaired it, "" when none did
	AfterGap bool   // the length before it in the same swim was excluded
}

// Link says which source record became which length.
type Link struct {
	FileID   string
	Record   int64
	Kind     read.RecordKind
	Ordinal  int
	Relation Relation
}

// Relation is how a record became a length.
type Relation string

// The relations.
const (
	Same       Relation = "same"
	Split      Relation = "split"
	Join       Relation = "join"
	Evened     Relation = "evened" // two records shared evenly between two lengths
	Share      Relation = "share"
	RestBefore Relation = "rest-before"
	RestAfter  Relation = "rest-after"
	Merged     Relation = "merged" // a sheet's row that describes lengths which another recorder timed
)
