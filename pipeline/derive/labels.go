package derive

import (
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/normalise"
)

// Label is a note of the squad's own (lane, phase, ...) that holds for a bout.
type Label struct{ Key, Value string }

// labelsOf picks the notes that hold for a swim, by key. Of several with one
// key the one for fewer swims counts, then the first in the order given.
func labelsOf(tags []normalise.FreeTag, swim int) []Label {
	var labels []Label
	var breadth []int
	for _, tag := range tags {
		wide := math.MaxInt
		if tag.RepFrom > 0 {
			if swim < tag.RepFrom || swim > tag.RepTo {
				continue
			}
			wide = tag.RepTo - tag.RepFrom
		}
		i, found := slices.BinarySearchFunc(labels, tag.Key, func(l Label, key string) int { return strings.Compare(l.Key, key) })
		switch {
		case !found:
			labels = slices.Insert(labels, i, Label{tag.Key, tag.Value})
			breadth = slices.Insert(breadth, i, wide)
		case wide < breadth[i]:
			labels[i].Value, breadth[i] = tag.Value, wide
		}
	}
	return labels
}

// Label is the bout's value under a key of the squad's own, "" when nothing
// was noted.
func (b *Bout) Label(key string) string {
	for _, l := range b.Labels {
		if l.Key == key {
			return l.Value
		}
	}
	return ""
}
