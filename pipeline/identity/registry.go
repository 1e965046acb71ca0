// Package identity answers who swam, and keeps names from going further.
//
// It turns names, paths and device numbers into pseudonyms (keyed
// HMAC-SHA-256) before anything is written; what maps them back stays in the
// study's private folder.
package identity

// Member is one row of the roster. Missing numbers are NaN, missing text "".
type Member struct {
	Record                 int64
	Line                   int // in the roster's file, from 1; 0 when not known
	Name                   string
	Aliases                []string
	Squad, Sex             string
	BirthYear              int // 0 when not given
	HRRestBPM, HRMaxBPM    float64
	HRMaxMeasuredIn        string
	MassKG                 float64
	HeightCM               float64
	ArmSpanCM              float64
	VO2RestMLPerKGMin      float64
	Devices                []string // serial numbers
	RateAlteringMedication *bool
	Consent                Consent
}

// Consent is what the roster says of a swimmer's consent.
type Consent int

// The answers. Only ConsentYes lets a member of the roster be used. Whoever is
// in no roster is at ConsentNotAsked; a roster without the column, an empty
// cell and one that is neither yes nor no leave a member at ConsentMissing.
const (
	ConsentNotAsked Consent = iota
	ConsentYes
	ConsentNo
	ConsentMissing
)

// Assignment is one row of the assign file.
type Assignment struct {
	Record int64
	File   string // path relative to the study's folder, slash-separated; * and ? as in inputs
	Name   string
}

// Owner is the answer to who swam.
type Owner struct {
	Swimmer string // pseudonym, or the name as given; "" when nobody is known
	Refused string // "" or the rule that refuses the owner's rows: no-swimmer, no-consent, forgotten
	How     string // path, assign, device, roster, sheet: the road that led to the answer

	// Conflict names the other roads that led to somebody else, such as
	// "path, device"; "" when they agree. It holds no name.
	Conflict string
}

// Seen is a name that a file showed, for the private map alone.
type Seen struct {
	Swimmer string // pseudonym
	Name    string
}
