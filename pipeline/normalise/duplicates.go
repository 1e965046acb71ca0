package normalise

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"lengthwise/pipeline/read"
)

const (
	// sameStartS is how far the starts of two exports of one recording may
	// lie apart, sameTotalS how far their total durations.
	sameStartS = 2.0
	sameTotalS = 0.5
	// fewestAlike is how many rows two sheets without a clock must share to
	// be the same sheet: fewer agree by chance.
	fewestAlike = 4
	// fewestDiffering is how many of them must differ from one another where
	// the rest of the sheets does not agree.
	fewestDiffering = 3
)

// byStart orders recordings by clock time, those without one last. Ties are
// broken by what was recorded, not by names or pseudonyms, so that the order
// survives a new key; the file id comes last, for copies of the same bytes.
func byStart(a, b *read.Recording) int {
	if a.Start.IsZero() != b.Start.IsZero() {
		if a.Start.IsZero() {
			return 1
		}
		return -1
	}
	return cmp.Or(
		a.Start.Compare(b.Start),
		cmp.Compare(a.LocalDate, b.LocalDate),
		cmp.Compare(a.Content, b.Content),
		cmp.Compare(a.Part, b.Part),
		cmp.Compare(a.FileID, b.FileID),
	)
}

// fuller orders recordings by how much they hold, the fullest first: of two
// copies of which one was cut, the whole one is kept.
func fuller(a, b *read.Recording) int {
	return cmp.Or(
		cmp.Compare(covered(b), covered(a)),
		cmp.Compare(len(b.Samples), len(a.Samples)),
		byStart(a, b),
	)
}

// covered is how many pool lengths a recording covers.
func covered(r *read.Recording) int {
	n := 0
	for i := range r.Lengths {
		n += max(1, r.Lengths[i].Covers)
	}
	return n
}

// dropDuplicates keeps one of each set of equal recordings of one swimmer: the
// fullest, the first by clock and content among equally full ones. The others
// are excluded whole.
func dropDuplicates(recordings []*read.Recording) (kept []*read.Recording, entries []read.Entry) {
	order := slices.Clone(recordings)
	slices.SortFunc(order, fuller)
	for _, r := range order {
		same := slices.IndexFunc(kept, func(k *read.Recording) bool { return isDuplicate(k, r) })
		if same < 0 {
			kept = append(kept, r)
			continue
		}
		entries = append(entries, whole(r, RuleDuplicate, "the same recording as in file "+kept[same].FileID)...)
	}
	slices.SortFunc(kept, byStart)
	return kept, entries
}

// isDuplicate tells whether two recordings of one swimmer are the same one:
// the same part of the same bytes; else the same recorder and creation time,
// unless start and totals both contradict it (a recorder whose clock was reset
// repeats its creation time); else the same kind, start and totals.
func isDuplicate(a, b *read.Recording) bool {
	if a.Kind != b.Kind {
		return false
	}
	if a.FileID != b.FileID && a.Part == b.Part {
		if a.Content != "" && a.Content == b.Content {
			return true
		}
		if a.Device != "" && a.Device == b.Device && a.Created != 0 && a.Created == b.Created &&
			(startsAgree(a, b) || totalsAgree(a, b)) {
			return true
		}
	}
	switch {
	case isGrownCopy(a, b):
		return true
	case !a.Start.IsZero() && !b.Start.IsZero():
		return startsAgree(a, b) && totalsAgree(a, b)
	case a.Start.IsZero() && b.Start.IsZero():
		return a.LocalDate == b.LocalDate && rowsAgree(a, b)
	}
	return false
}

func startsAgree(a, b *read.Recording) bool {
	if a.Start.IsZero() || b.Start.IsZero() {
		return false
	}
	return math.Abs(a.Start.Sub(b.Start).Seconds()) <= sameStartS
}

// totalsAgree compares the lengths covered and their seconds, or, where
// neither recording has lengths, the samples.
func totalsAgree(a, b *read.Recording) bool {
	if covered(a) != covered(b) {
		return false
	}
	if len(a.Lengths) == 0 {
		return len(a.Samples) == len(b.Samples) && len(a.Samples) > 0 && sumBPM(a) == sumBPM(b)
	}
	return math.Abs(totalS(a)-totalS(b)) <= sameTotalS
}

func totalS(r *read.Recording) float64 {
	var sum float64
	for i := range r.Lengths {
		if d := r.Lengths[i].DurationS; !math.IsNaN(d) {
			sum += d
		}
	}
	return sum
}

func sumBPM(r *read.Recording) float64 {
	var sum float64
	for i := range r.Samples {
		if isBeat(r.Samples[i].BPM) {
			sum += r.Samples[i].BPM
		}
	}
	return sum
}

// rowsAgree tells whether two recordings hold the same rows one by one.
func rowsAgree(a, b *read.Recording) bool {
	return len(a.Lengths) >= fewestAlike && slices.EqualFunc(a.Lengths, b.Lengths, rowAgrees)
}

// isGrownCopy tells whether one of two sheets of a day holds all rows of the
// other, from the first on, and then more: a sheet that was saved under another
// name and written on. Without a clock the rows must differ among themselves,
// since a set of even times can be swum twice a day.
func isGrownCopy(a, b *read.Recording) bool {
	if a.Kind != read.FromSheet || b.Kind != read.FromSheet || a.FileID == b.FileID || a.LocalDate != b.LocalDate {
		return false
	}
	if n := min(len(a.Lengths), len(b.Lengths)); n < fewestAlike || rowsAlike(a, b) < n {
		return false
	} else if a.Start.IsZero() && b.Start.IsZero() {
		return differing(a.Lengths[:n]) >= fewestDiffering
	}
	return startsAgree(a, b)
}

// rowsAlike counts the rows that stand at the same place in both recordings.
func rowsAlike(a, b *read.Recording) (n int) {
	for i := range min(len(a.Lengths), len(b.Lengths)) {
		if rowAgrees(a.Lengths[i], b.Lengths[i]) {
			n++
		}
	}
	return n
}

// differing counts the kinds of rows by seconds and strokes.
func differing(rows []read.Length) int {
	type row struct{ seconds, strokes string }
	kinds := make(map[row]bool)
	for _, l := range rows {
		kinds[row{strconv.FormatFloat(l.DurationS, 'g', -1, 64), strconv.FormatFloat(l.Strokes, 'g', -1, 64)}] = true
	}
	return len(kinds)
}

// noteLikeSheets notes the sheets that share half their rows or more with
// another of the same day, or run while it runs: one may be a corrected copy of
// the other, and nothing tells which is right.
func noteLikeSheets(drafts []*draft) {
	for i, d := range drafts {
		if d.Kind != read.FromSheet {
			continue
		}
		for _, other := range drafts[:i] {
			if other.Kind != read.FromSheet || other.FileID == d.FileID || other.LocalDate != d.LocalDate {
				continue
			}
			a, b := other.recording, d.recording
			n := min(len(a.Lengths), len(b.Lengths))
			alike := rowsAlike(a, b)
			switch {
			case alike >= fewestDiffering && 2*alike >= n && differing(b.Lengths[:n]) >= fewestDiffering:
				d.note(RuleSameDay, "%d of its rows are those of file %s of the same day: both are used, and the swims count twice if one is a copy that was changed; take out the one that does not hold",
					alike, other.FileID)
			case overlap(other, d):
				d.note(RuleSameDay, "swum at the same time as file %s: both are used, and one of the clocks is wrong or the swims count twice", other.FileID)
			default:
				continue
			}
			break
		}
	}
}

// rowAgrees compares what was swum.
func rowAgrees(x, y read.Length) bool {
	return x.Covers == y.Covers && x.Stroke == y.Stroke &&
		same(x.DurationS, y.DurationS) && same(x.Strokes, y.Strokes) && same(x.PoolM, y.PoolM)
}

// same compares numbers of which both may be missing.
func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
