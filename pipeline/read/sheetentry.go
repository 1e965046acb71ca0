package read

import (
	"fmt"
	"strings"

	"lengthwise/pipeline/identity"
)

// exclude writes the entry of a row that is not used.
func (s *sheetReader) exclude(r sheetRow, rule, column, format string, args ...any) {
	s.enter(r, rule, Excluded, csvDetail(r.row, column, format, args...))
}

// note writes an entry of a row that is used.
func (s *sheetReader) note(r sheetRow, rule, column, format string, args ...any) {
	s.enter(r, rule, Noted, csvDetail(r.row, column, format, args...))
}

// noteRun writes a note, or lengthens the last one when it says the same of the
// record before.
func (s *sheetReader) noteRun(r sheetRow, rule, format string, args ...any) {
	detail := csvDetail(r.row, "", format, args...)
	_, says, _ := strings.Cut(detail, ": ")
	for i := len(s.file.Entries) - 1; i >= 0; i-- {
		e := &s.file.Entries[i]
		if e.Record != 0 && e.Record+e.Records < r.record {
			break
		}
		if e.Rule == rule && e.Kind == r.kind && e.Swimmer == r.owner.Swimmer && e.Action == Noted &&
			e.Record+e.Records == r.record && strings.HasSuffix(e.Detail, says) {
			e.Records++
			return
		}
	}
	s.enter(r, rule, Noted, detail)
}

func (s *sheetReader) enter(r sheetRow, rule string, action Action, detail string) {
	s.file.Entries = append(s.file.Entries, Entry{FileID: s.src.FileID, Record: r.record, Records: 1, Kind: r.kind,
		Swimmer: r.owner.Swimmer, Rule: rule, Action: action, Detail: detail})
}

// sheetNames answers for the names of one file and remembers them.
type sheetNames struct {
	src    SheetSource
	owners map[string]identity.Owner
	seen   []identity.Seen
}

func newSheetNames(src SheetSource) *sheetNames {
	return &sheetNames{src: src, owners: map[string]identity.Owner{}}
}

// owner answers for a cell; an empty one is the file's owner.
func (n *sheetNames) owner(name string) identity.Owner {
	if name == "" {
		owner := n.src.FileOwner
		if owner.Swimmer == "" && owner.Refused == "" {
			owner.Refused = identity.NoSwimmer
		}
		return owner
	}
	owner, known := n.owners[name]
	if !known {
		owner.Refused = identity.NoSwimmer
		if n.src.Owner != nil {
			owner = n.src.Owner(name)
		}
		n.owners[name] = owner
		n.seen = append(n.seen, identity.Seen{Swimmer: owner.Swimmer, Name: name})
	}
	return owner
}

// sheetOwnerKey keeps swimmers apart, those whom nobody knows by their names.
func sheetOwnerKey(owner identity.Owner, name string) string {
	if owner.Swimmer != "" {
		return "s\x00" + owner.Swimmer
	}
	return "n\x00" + identity.Fold(name)
}

// noteFile writes an entry about the file as a whole.
func (s *sheetReader) noteFile(rule, format string, args ...any) {
	s.file.Entries = append(s.file.Entries, Entry{FileID: s.src.FileID, Records: 1, Kind: KindFile, Rule: rule,
		Action: Noted, Detail: fmt.Sprintf(format, args...)})
}
