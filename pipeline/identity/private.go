package identity

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
)

// FileName is a file's id and its path relative to the study's folder.
type FileName struct {
	ID, Path string
}

// SwimmerMap is the CSV (pseudonym, name) that leads from pseudonyms back to
// every name that was seen, in order, each once. It belongs into the study's
// private folder and nowhere else.
func SwimmerMap(seen []Seen) []byte {
	rows := make([][2]string, 0, len(seen))
	for _, s := range seen {
		rows = append(rows, [2]string{s.Swimmer, Tidy(s.Name)})
	}
	return privateCSV([2]string{"pseudonym", "name"}, rows)
}

// FileMap is the CSV (file_id, path) that leads from file ids back to paths,
// in order, each once. It belongs into the study's private folder.
func FileMap(files []FileName) []byte {
	rows := make([][2]string, 0, len(files))
	for _, f := range files {
		rows = append(rows, [2]string{f.ID, f.Path})
	}
	return privateCSV([2]string{"file_id", "path"}, rows)
}

// MemberNames is what SwimmerMap needs of the roster: each member's name, but for
// those who were removed from the study.
func (r *Registry) MemberNames() []Seen {
	var seen []Seen
	for i, m := range r.members {
		if !r.memberForgotten(i) {
			seen = append(seen, Seen{Swimmer: r.pseudonyms[i], Name: m.Name})
		}
	}
	return seen
}

func privateCSV(header [2]string, rows [][2]string) []byte {
	slices.SortFunc(rows, func(a, b [2]string) int {
		if c := strings.Compare(a[0], b[0]); c != 0 {
			return c
		}
		return strings.Compare(a[1], b[1])
	})
	var out bytes.Buffer
	to := csv.NewWriter(&out)
	to.Write(header[:]) // into memory: cannot fail
	for _, row := range slices.Compact(rows) {
		to.Write(row[:])
	}
	to.Flush()
	return out.Bytes()
}
