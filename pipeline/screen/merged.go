package screen

import (
	"lengthwise/pipeline/read"
)

// RuleMergedAway excludes a sheet's row whose swim was left out.
const RuleMergedAway = "merged-away"

// linkMerged links the rows of a sheet that are part of the session's lengths:
// each to the first kept length of its swim. Where no length of the swim was
// kept, the row is excluded with it.
func (s *Session) linkMerged() []read.Entry {
	if len(s.Merged) == 0 {
		return nil
	}
	firstOfSwim := map[int]int{}
	for i := range s.Kept {
		if _, ok := firstOfSwim[s.Kept[i].Swim]; !ok {
			firstOfSwim[s.Kept[i].Swim] = s.Kept[i].Ordinal
		}
	}
	var entries []read.Entry
	for _, m := range s.Merged {
		if ordinal, ok := firstOfSwim[s.Lengths[m.Length].Swim]; ok {
			s.Lineage = append(s.Lineage, Link{FileID: m.FileID, Record: m.Record, Kind: m.Kind, Ordinal: ordinal, Relation: Merged})
			continue
		}
		entries = append(entries, read.Entry{FileID: m.FileID, Record: m.Record, Records: 1, Kind: m.Kind, Swimmer: s.Swimmer,
			Session: s.ID, Rule: RuleMergedAway, Action: read.Excluded, Detail: "no length of the swim that it describes could be used"})
	}
	return entries
}
