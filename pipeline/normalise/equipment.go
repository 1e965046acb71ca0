package normalise

import (
	"slices"
	"strings"
)

// equipmentWords lists what is known of a swimmer's equipment, by the words
// people write for it.
var equipmentWords = map[string]string{
	"paddles": "paddles", "paddle": "paddles", "hand paddles": "paddles",
	"fins": "fins", "fin": "fins", "flippers": "fins",
	"pull buoy": "pull-buoy", "pull-buoy": "pull-buoy", "pullbuoy": "pull-buoy", "buoy": "pull-buoy", "pull": "pull-buoy",
	"kickboard": "kickboard", "kick board": "kickboard", "kick-board": "kickboard", "board": "kickboard",
	"snorkel": "snorkel", "band": "band", "ankle band": "band", "wetsuit": "wetsuit", "drag suit": "drag-suit",
	"beeper": "beeper", "tempo beeper": "beeper", "metronome": "beeper", "none": "none", "no": "none",
}

// otherEquipment stands for whatever else was written: free text may hold
// names, and nothing of it goes into a table.
const otherEquipment = "other"

// Equipment puts a cell on equipment into known words, sorted and joined by
// "+"; what it does not know becomes "other". An empty cell stays empty.
func Equipment(cell string) string {
	var words []string
	for _, part := range strings.FieldsFunc(strings.ToLower(cell), func(r rune) bool { return strings.ContainsRune(",;/+&|", r) }) {
		part = strings.Join(strings.Fields(part), " ")
		if part == "" {
			continue
		}
		word, ok := equipmentWords[part]
		if !ok {
			word = otherEquipment
		}
		words = append(words, word)
	}
	slices.Sort(words)
	return strings.Join(slices.Compact(words), "+")
}

// nameEquipment puts the equipment of all lengths into known words.
func nameEquipment(drafts []*draft) {
	for _, d := range drafts {
		for i := range d.Lengths {
			d.Lengths[i].Tags.Equipment = Equipment(d.Lengths[i].Tags.Equipment)
		}
	}
}
