package run

import (
	"context"
	"errors"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"lengthwise/pipeline/cache"
)

// dealtOut is a small study with its result by one process, and options with an empty
// cache for shards.
func dealtOut(t *testing.T) (*keepingStudy, Options, map[string]string) {
	t.Helper()
	k := newKeepingStudy(t)
	k.smallest, k.curve = 3, true
	k.write()
	withKey(t, k.folder)
	s := k.load()
	if _, err := Study(context.Background(), s, Options{Workers: 2}); err != nil {
		t.Fatal(err)
	}
	want := hashes(t, s.Path(s.Output))
	if err := os.RemoveAll(s.Path(s.Output)); err != nil {
		t.Fatal(err)
	}
	return k, Options{Workers: 2, Cache: filepath.Join(k.folder, "private/cache/study")}, want
}

// shardsOf runs a phase for all shards in a mixed order.
func (k *keepingStudy) shardsOf(o Options, phase string, of int, r *rand.Rand) {
	k.t.Helper()
	for _, i := range r.Perm(of) {
		if _, err := RunShard(context.Background(), k.load(), o, phase, Shard{i + 1, of}); err != nil {
			k.t.Fatalf("%s %d/%d: %v", phase, i+1, of, err)
		}
	}
}

func TestShardsGiveTheSameBytes(t *testing.T) {
	k, o, want := dealtOut(t)
	r := rand.New(rand.NewPCG(1, 1))
	for _, of := range []int{1, 3, 8, 64} {
		for _, phase := range []string{PhaseRead, PhaseMeasure, PhaseAnswer} {
			k.shardsOf(o, phase, of, r)
			// A shard that died left unfinished files, or none; run again it changes nothing.
			for _, name := range k.cached("segments")[:1] {
				if err := os.Rename(name, name+".new-1"); err != nil {
					t.Fatal(err)
				}
			}
			again := o
			again.Anew = true // of this phase; what the ones before made is still found
			k.shardsOf(again, phase, of, r)
		}
		s := k.load()
		if _, err := Reduce(context.Background(), s, o, of); err != nil {
			t.Fatalf("%d shards: %v", of, err)
		}
		if got := hashes(t, s.Path(s.Output)); !maps.Equal(got, want) {
			t.Errorf("%d shards: other bytes", of)
		}
		if err := errors.Join(os.RemoveAll(s.Path(s.Output)), os.RemoveAll(filepath.Join(k.folder, "private/cache"))); err != nil {
			t.Fatal(err)
		}
	}
}

// What an earlier phase has not made, or made of something else, is named, and the
// result stays away.
func TestShardsThatAreMissing(t *testing.T) {
	k, o, _ := dealtOut(t)
	r := rand.New(rand.NewPCG(2, 1))
	ctx := context.Background()
	missing := func(what, phase string, shards []int, err error) {
		t.Helper()
		var m *MissingError
		if !errors.As(err, &m) || m.Phase != phase || shards != nil && !slices.Equal(m.Shards, shards) || len(m.Shards) == 0 {
			t.Errorf("%s: %v", what, err)
		}
		if _, err := os.Stat(filepath.Join(k.folder, "out")); !os.IsNotExist(err) {
			t.Errorf("%s: there is a result", what)
		}
	}
	for _, i := range []int{1, 3, 4} {
		if _, err := RunShard(ctx, k.load(), o, PhaseRead, Shard{i, 4}); err != nil {
			t.Fatal(err)
		}
	}
	_, err := RunShard(ctx, k.load(), o, PhaseMeasure, Shard{1, 4})
	missing("a shard that was not read", PhaseRead, []int{2}, err)
	k.shardsOf(o, PhaseRead, 4, r)
	_, err = RunShard(ctx, k.load(), o, PhaseAnswer, Shard{1, 4})
	missing("nothing measured", PhaseMeasure, nil, err)
	k.shardsOf(o, PhaseMeasure, 4, r)
	_, err = Reduce(ctx, k.load(), o, 4)
	missing("nothing answered", PhaseAnswer, nil, err)
	k.shardsOf(o, PhaseAnswer, 4, r)

	k.highest-- // another study file
	k.write()
	_, err = Reduce(ctx, k.load(), o, 4)
	missing("other settings", PhaseMeasure, nil, err)
	k.highest++
	k.smallest++
	k.write()
	_, err = Reduce(ctx, k.load(), o, 4)
	missing("another question, which some are asked as they are measured", PhaseMeasure, nil, err)
	k.smallest--
	k.write()
	k.session(0) // another file
	_, err = Reduce(ctx, k.load(), o, 4)
	missing("a new file", PhaseRead, nil, err)
	k.shardsOf(o, PhaseRead, 4, r)
	_, err = Reduce(ctx, k.load(), o, 4)
	missing("a new file that was read", PhaseMeasure, nil, err)
	store, err := cache.Open(o.Cache)
	if err != nil {
		t.Fatal(err)
	}
	made := byVersion(readStage)
	for b := range 64 { // as another version of the program would have left them
		m, err := store.Manifest(manifestOf(readStage, b), made)
		if errors.Is(err, cache.ErrMissing) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		m.For = map[string]string{byProgram: "another " + versionOf(readStage)}
		if err := store.Publish(manifestOf(readStage, b), m); err != nil {
			t.Fatal(err)
		}
	}
	_, err = Reduce(ctx, k.load(), o, 4)
	missing("another version", PhaseRead, nil, err)

	for _, c := range []struct {
		phase string
		shard Shard
		o     Options
	}{
		{"sleep", Shard{1, 1}, o}, {PhaseRead, Shard{0, 1}, o}, {PhaseRead, Shard{2, 1}, o}, {PhaseRead, Shard{1, 65}, o}, {PhaseRead, Shard{1, 1}, Options{}},
	} {
		if _, err := RunShard(ctx, k.load(), c.o, c.phase, c.shard); !errors.Is(err, ErrPhase) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}
