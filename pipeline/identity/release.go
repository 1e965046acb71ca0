package identity

import (
	"fmt"
	"slices"
)

// releaseKind hashes pseudonyms for releases, apart from all other ids.
const releaseKind = "release"

// ReleaseNames gives the pseudonyms of a study fresh ones for a release of that
// label. Without the key nobody can join two releases, or a release and the study's
// own tables, by them. It fails with ErrCollision where two come out alike.
func ReleaseNames(key []byte, label string, pseudonyms []string) (map[string]string, error) {
	if len(key) < shortestKey {
		return nil, fmt.Errorf("fresh pseudonyms need a key of at least %d bytes", shortestKey)
	}
	e := newEncoder(key)
	out, taken := map[string]string{}, map[string]bool{}
	for _, p := range slices.Sorted(slices.Values(pseudonyms)) {
		fresh := e.id(releaseKind, "r-", e.swimmer, label+"\x00"+p)
		if taken[fresh] {
			return nil, collision(releaseKind, fresh)
		}
		out[p], taken[fresh] = fresh, true
	}
	return out, nil
}
