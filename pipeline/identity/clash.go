package identity

import "fmt"

// ClashError says that two rows of the roster claim the same name, alias or
// device. Error names the rows only; Value is for the terminal of whoever
// checks the study and for private files.
type ClashError struct {
	What    string // name or device
	Records [2]int64
	Value   string
}

// Error says which rows clash and what to do.
func (e *ClashError) Error() string {
	what := "a name or alias"
	if e.What == "device" {
		what = "a device"
	}
	return fmt.Sprintf("roster: rows %d and %d both claim %s; leave it with one of them", e.Records[0], e.Records[1], what)
}
