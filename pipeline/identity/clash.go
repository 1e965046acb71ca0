package identity

import "fmt"

// ClashError says that two rows of the roster claim the same name, alias or
// device. Error names lines or rows only; Value is for the terminal of whoever
// checks the study and for private files.
type ClashError struct {
	What    string // name or device
	Records [2]int64
	Lines   [2]int // of the roster's file, 0 when not known
	Value   string
}

// Error says which rows clash and what to do.
func (e *ClashError) Error() string {
	what := "a name or alias"
	if e.What == "device" {
		what = "a device"
	}
	if e.Lines[0] > 0 && e.Lines[1] > 0 {
		return fmt.Sprintf("roster: lines %d and %d both claim %s; leave it with one of them", e.Lines[0], e.Lines[1], what)
	}
	return fmt.Sprintf("roster: rows %d and %d both claim %s; leave it with one of them", e.Records[0], e.Records[1], what)
}
