package run

import (
	"fmt"
	"sync"
	"testing"

	"lengthwise/pipeline/read"
)

// Recordings come back the same from memory and from a file, whatever the order
// in which they are asked for.
func TestSpillGivesBackWhatItTook(t *testing.T) {
	packer := read.Packer{}
	for _, from := range []int{1, 600, 1 << 20} {
		s := spill{from: from}
		var all []held
		for i := range 100 {
			r := read.Recording{FileID: fmt.Sprintf("f-%d", i), Part: i, Swimmer: "s", Lengths: make([]read.Length, i%7)}
			for k := range r.Lengths {
				r.Lengths[k].Record = int64(1000*i + k)
			}
			h, err := s.add(&r, packer.Pack(nil, &r))
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, h)
		}
		if (s.file != nil) != (from < 1<<20) {
			t.Errorf("from %d bytes on: a file %t, after %d bytes", from, s.file != nil, s.size)
		}
		all[40].Refused = "two-owners"
		var group sync.WaitGroup
		for start := range 10 {
			group.Go(func() {
				var asked []held
				for i := start; i < 100; i += 10 {
					asked = append([]held{all[i]}, asked...)
				}
				got, err := s.load(asked)
				if err != nil {
					t.Error(err)
					return
				}
				for k, r := range got {
					i := asked[k].Part
					if r.FileID != fmt.Sprintf("f-%d", i) || len(r.Lengths) != i%7 || len(r.Lengths) > 0 && r.Lengths[0].Record != int64(1000*i) || (r.Refused != "") != (i == 40) {
						t.Errorf("from %d: recording %d came back as %+v", from, i, r)
					}
				}
			})
		}
		group.Wait()
		if err := s.close(); err != nil {
			t.Error(err)
		}
	}
}
