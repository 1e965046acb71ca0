package study

import (
	"reflect"
	"testing"
)

func TestChangeIsInForce(t *testing.T) {
	once := Change{On: []string{"2026-03-02"}}
	often := Change{On: []string{"2026-02-02", "2026-03-02"}, Off: []string{"2026-02-16", "2026-03-16"}}
	stays := Change{On: []string{"2026-02-02", "2026-03-02"}, Off: []string{"2026-02-16"}}
	cases := []struct {
		change Change
		day    string
		want   bool
	}{
		{once, "2026-03-01", false}, {once, "2026-03-02", true}, {once, "2027-01-01", true},
		{often, "2026-02-01", false}, {often, "2026-02-02", true}, {often, "2026-02-15", true}, {often, "2026-02-16", false},
		{often, "2026-03-01", false}, {often, "2026-03-15", true}, {often, "2026-03-16", false},
		{stays, "2026-03-16", true}, {stays, "2026-02-20", false}, {Change{}, "2026-02-20", false},
	}
	for _, c := range cases {
		if got := c.change.Active(c.day); got != c.want {
			t.Errorf("%v on %s: %v", c.change, c.day, got)
		}
	}
	if got, want := often.Switches(), []string{"2026-02-02", "2026-02-16", "2026-03-02", "2026-03-16"}; !reflect.DeepEqual(got, want) {
		t.Errorf("switches %v, want %v", got, want)
	}
}
