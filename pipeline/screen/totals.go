package screen

import "lengthwise/pipeline/read"

// Merge adds what another account holds, as if everything had been entered
// here; the other account is not changed.
func (a *Account) Merge(other *Account) {
	for id, from := range other.files {
		to := a.file(id)
		if from.known {
			to.known, to.counts = true, from.counts
		}
		for k := range counted {
			to.used[k] = append(to.used[k], from.used[k]...)
			to.excluded[k] = append(to.excluded[k], from.excluded[k]...)
			to.shared[k] = append(to.shared[k], from.shared[k]...)
			for relation, spans := range from.once[k] {
				if to.once[k] == nil {
					to.once[k] = make(map[Relation][]span)
				}
				to.once[k][relation] = append(to.once[k][relation], spans...)
			}
		}
		for u, n := range from.uses {
			to.uses[u] += n
		}
	}
}

// Total is the balance of one kind of record over all files. A record that
// two rules exclude counts once.
type Total struct {
	Kind                 read.RecordKind
	Read, Used, Excluded int64
}

// Totals counts each kind's records: read as the readers counted them, used
// and excluded as they were entered. After Check has passed, Read is Used plus
// Excluded.
func (a *Account) Totals() []Total {
	totals := make([]Total, len(counted))
	for k, kind := range counted {
		totals[k].Kind = kind
	}
	for _, f := range a.files {
		for k, n := range [...]int64{f.counts.Lengths, f.counts.Rests, f.counts.Repeats, f.counts.HeartRate} {
			totals[k].Read += n
		}
		for k := range counted {
			used, _ := f.usedOf(k)
			totals[k].Used += size(used)
			totals[k].Excluded += size(f.excluded[k])
		}
	}
	return totals
}

// size is how many records lie in any of the spans.
func size(spans []span) int64 {
	union, _ := merge(spans)
	var n int64
	for _, s := range union {
		n += s.to - s.from
	}
	return n
}
