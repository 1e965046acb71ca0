package identity

import (
	"fmt"
	"slices"
)

// Forgotten is the rule that refuses the rows of swimmers who were removed from
// the study.
const Forgotten = "forgotten"

// forgottenKind hashes names for tombstones; tombstoneLength is their length,
// which 100 bits make too long for two names to share one.
const (
	forgottenKind   = "forgotten"
	tombstoneLength = 20
)

// Tombstones are the keyed hashes by which a study knows, without their names,
// whom it must not take back: one for each name that somebody is called by.
func Tombstones(key []byte, names []string) ([]string, error) {
	if len(key) < shortestKey {
		return nil, fmt.Errorf("tombstones need a key of at least %d bytes", shortestKey)
	}
	e := newEncoder(key)
	var out []string
	for _, name := range names {
		if folded := Fold(name); folded != "" {
			out = append(out, e.id(forgottenKind, "x-", tombstoneLength, folded))
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// Forget makes the registry refuse whoever is called by a name with one of these
// tombstones, under all names and with all recorders that the roster gives them.
// key is the one they were made with.
func (r *Registry) Forget(key []byte, tombstones []string) {
	r.tombs = encoder{key: slices.Clone(key)}
	r.forgotten = map[string]bool{}
	for _, t := range tombstones {
		r.forgotten[t] = true
	}
}

// IsForgotten tells whether somebody of that name was removed from the study.
func (r *Registry) IsForgotten(name string) bool {
	if len(r.forgotten) == 0 {
		return false
	}
	if i, ok := r.byName[Fold(name)]; ok {
		return r.memberForgotten(i)
	}
	return r.tomb(name)
}

func (r *Registry) memberForgotten(i int) bool {
	if len(r.forgotten) == 0 {
		return false
	}
	m := r.members[i]
	return r.tomb(m.Name) || slices.ContainsFunc(m.Aliases, r.tomb)
}

func (r *Registry) tomb(name string) bool {
	folded := Fold(name)
	return folded != "" && r.forgotten[r.tombs.id(forgottenKind, "x-", tombstoneLength, folded)]
}
