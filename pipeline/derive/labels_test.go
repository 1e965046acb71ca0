package derive

import (
	"reflect"
	"testing"

	"lengthwise/pipeline/normalise"
)

func TestLabelsOfASwim(t *testing.T) {
	tags := []normalise.FreeTag{
		{Key: "lane", Value: "4", RepFrom: 2, RepTo: 2},
		{Key: "lane", Value: "5", RepFrom: 1, RepTo: 6},
		{Key: "phase", Value: "base"},
		{Key: "phase", Value: "taper"},
		{Key: "air", Value: "warm", RepFrom: 3, RepTo: 4},
	}
	cases := []struct {
		swim int
		want []Label
	}{
		{1, []Label{{"lane", "5"}, {"phase", "base"}}},
		{2, []Label{{"lane", "4"}, {"phase", "base"}}},
		{3, []Label{{"air", "warm"}, {"lane", "5"}, {"phase", "base"}}},
		{7, []Label{{"phase", "base"}}},
	}
	for _, c := range cases {
		got := labelsOf(tags, c.swim)
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("swim %d: %v, want %v", c.swim, got, c.want)
		}
		b := Bout{Labels: got}
		if b.Label("phase") != "base" || b.Label("none") != "" {
			t.Errorf("swim %d: labels by key", c.swim)
		}
	}
	if labelsOf(nil, 1) != nil {
		t.Error("labels of nothing")
	}
}
