package run

import (
	"path/filepath"
	"slices"
	"testing"

	"lengthwise/datasets"
)

// TestProposeZone lets the demo squad's watches, which swim in Lisbon on both
// sides of a change to summer time, say where that may be.
func TestProposeZone(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "squad")
	if err := datasets.WriteDemo(folder); err != nil {
		t.Fatal(err)
	}
	p, err := Propose(folder)
	if err != nil {
		t.Fatal(err)
	}
	for zone, want := range map[string]bool{
		"Europe/Lisbon": true, "Europe/London": true, // the same rule
		"Europe/Paris": false, "Atlantic/Reykjavik": false, "Africa/Lagos": false, "UTC": false, // an hour off in winter, or in summer
	} {
		if got := slices.Contains(p.Zones, zone); got != want {
			t.Errorf("%s proposed: %t, want %t", zone, got, want)
		}
	}
	other := &Proposal{Activities: p.Activities}
	if err := other.zone(folder, "Atlantic/Faroe"); err != nil || len(other.Zones) == 0 || other.Zones[0] != "Atlantic/Faroe" {
		t.Errorf("the machine's own zone agrees and does not come first: %v (%v)", other.Zones, err)
	}
	if err := other.zone(folder, "Asia/Tokyo"); err != nil || slices.Contains(other.Zones, "Asia/Tokyo") {
		t.Errorf("the machine's own zone does not agree and is proposed: %v (%v)", other.Zones, err)
	}
	none := &Proposal{}
	if err := none.zone(folder, "Europe/Lisbon"); err != nil || len(none.Zones) > 0 {
		t.Errorf("zones without a clock: %v (%v)", none.Zones, err)
	}
}
