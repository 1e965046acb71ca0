package normalise

import "testing"

func TestEquipmentIsKnownWordsAlone(t *testing.T) {
	for cell, want := range map[string]string{
		"": "", "  ": "", "Paddles": "paddles", "pull buoy; Hand  paddles": "paddles+pull-buoy", "fins, FIN": "fins",
		"Ada Quayle's paddles": "other", "snorkel + Ada": "other+snorkel", "kick-board": "kickboard", "none": "none",
	} {
		if got := Equipment(cell); got != want {
			t.Errorf("%q: %q, want %q", cell, got, want)
		}
	}
	r := activity("watch", morning, 30, 30)
	r.Lengths[0].Tags.Equipment = "lent by Ada Quayle"
	got, _ := sessions(t, nil, r)
	if e := got[0].Lengths[0].Tags.Equipment; e != "other" {
		t.Errorf("a length carries %q", e)
	}
}
