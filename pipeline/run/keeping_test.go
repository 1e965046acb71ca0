package run

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/activityfile"
	"lengthwise/datasets/deckfile"
	"lengthwise/datasets/squad"
	"lengthwise/pipeline/study"
)

// keepingSettings has a place for every setting that the steps of the test change.
const keepingSettings = `study: keeping
timezone: %s
inputs:
  - {path: "watches/{swimmer}/*.fit", kind: activity, stroke_count: cycles, hr_source: strap}
  - {path: "sheets/*.csv", kind: sheet, stroke_count: %s}
roster: roster.csv
notes: notes.csv
screen: {highest_hr_bpm: %d}
cost: {steady: %s}
analysis: {min_sessions: 2, min_bouts: 8, smallest_effect: %g, sensitivity: %t}
`

// keepingStudy is a small squad with watches, straps and sheets, that a test can
// change step by step.
type keepingStudy struct {
	t        *testing.T
	folder   string
	squad    squad.Squad
	sessions []int // of each swimmer, written so far
	zone     string
	count    string
	highest  int
	steady   string
	smallest float64
	curve    bool
	rest     []float64
	notes    string
}

func newKeepingStudy(t *testing.T) *keepingStudy {
	sc := squad.Demo(11)
	sc.Swimmers, sc.SessionsPerSwimmer, sc.BoutsPerSession, sc.WarmUp, sc.DrillShare = 6, 5, 6, false, 0
	sc.Distances, sc.SetDistances = []float64{200, 300}, nil
	k := &keepingStudy{t: t, folder: t.TempDir(), squad: squad.Simulate(sc), sessions: make([]int, 6), zone: "UTC", count: "arms", highest: 215,
		steady: "auto", smallest: 2, notes: "swimmer,date,rep_from,rep_to,key,value\n"}
	for i := range k.squad.Swimmers {
		k.rest = append(k.rest, k.squad.Swimmers[i].RestBPM)
		for range 3 {
			k.session(i)
		}
	}
	k.write()
	return k
}

// session writes one more session of a swimmer: on the watch, or for the last swimmer
// on a sheet, which says nothing of samples.
func (k *keepingStudy) session(i int) {
	sw := &k.squad.Swimmers[i]
	if k.sessions[i] == len(sw.Sessions) {
		return
	}
	s := &sw.Sessions[k.sessions[i]]
	k.sessions[i]++
	if i == len(k.squad.Swimmers)-1 {
		var b strings.Builder
		rows := deckfile.RowsFromSession(s, sw, deckfile.SheetOptions{HeartRate: deckfile.Strap})
		if err := deckfile.WriteSheet(&b, rows, deckfile.Format{}); err != nil {
			k.t.Fatal(err)
		}
		put(k.t, k.folder, map[string]string{fmt.Sprintf("sheets/%d.csv", s.Number): b.String()})
		return
	}
	data, err := activityfile.Encode(activityfile.FromSession(s, sw, activityfile.Options{RecordEverySeconds: 2}), activityfile.Quirks{})
	if err != nil {
		k.t.Fatal(err)
	}
	put(k.t, k.folder, map[string]string{fmt.Sprintf("watches/%s/%d.fit", sw.Handle, s.Number): string(data)})
}

// write writes the study file and the lists.
func (k *keepingStudy) write() {
	var roster strings.Builder
	roster.WriteString("swimmer,hr_rest,consent\n")
	for i := range k.squad.Swimmers {
		fmt.Fprintf(&roster, "%s,%.0f,yes\n", k.squad.Swimmers[i].Handle, k.rest[i])
	}
	put(k.t, k.folder, map[string]string{"roster.csv": roster.String(), "notes.csv": k.notes,
		"study.yaml": fmt.Sprintf(keepingSettings, k.zone, k.count, k.highest, k.steady, k.smallest, k.curve)})
}

func (k *keepingStudy) remove(pattern string) {
	all, err := filepath.Glob(filepath.Join(k.folder, pattern))
	if err != nil || len(all) == 0 {
		return
	}
	if err := os.Remove(all[len(all)-1]); err != nil {
		k.t.Fatal(err)
	}
}

// steps are the changes between runs; each may come several times.
func (k *keepingStudy) steps(r *rand.Rand) map[string]func() {
	i := r.IntN(len(k.squad.Swimmers))
	toggle := func(at *string, a, b string) func() {
		return func() {
			if *at = map[string]string{a: b, b: a}[*at]; *at == "" {
				*at = a
			}
		}
	}
	name := k.squad.Swimmers[i].Handle
	return map[string]func(){
		"a session more":   func() { k.session(i) },
		"a file gone":      func() { k.remove("watches/" + name + "/*.fit") },
		"a sheet gone":     func() { k.remove("sheets/*.csv") },
		"another zone":     toggle(&k.zone, "UTC", "Europe/Lisbon"),
		"another count":    toggle(&k.count, "arms", "cycles"),
		"another reading":  toggle(&k.steady, "auto", "window"),
		"a screen setting": func() { k.highest ^= 4 },
		"another question": func() { k.smallest++ },
		"with the curve":   func() { k.curve = !k.curve },
		"another resting":  func() { k.rest[i]++ },
		"a note": func() {
			k.notes += fmt.Sprintf("%s,%s,1,2,lane,%d\n", name, k.squad.Swimmers[i].Sessions[0].Local.Format("2006-01-02"), r.IntN(4))
		},
		"nothing":           func() {},
		"a damaged segment": func() { k.damage(r) },
		"a segment gone":    func() { k.lose(r, "segments") },
		"a manifest gone":   func() { k.lose(r, "manifests") },
	}
}

func (k *keepingStudy) cached(folder string) []string {
	all, err := filepath.Glob(filepath.Join(k.folder, "private/cache/study", folder, "*"))
	if err != nil {
		k.t.Fatal(err)
	}
	return all
}

// segments tells segments apart also where one was written again with the same bytes.
func (k *keepingStudy) segments() map[string]time.Time {
	k.t.Helper()
	out := map[string]time.Time{}
	for _, path := range k.cached("segments") {
		info, err := os.Stat(path)
		if err != nil {
			k.t.Fatal(err)
		}
		out[path] = info.ModTime()
	}
	return out
}

func (k *keepingStudy) lose(r *rand.Rand, folder string) {
	if all := k.cached(folder); len(all) > 0 {
		if err := os.Remove(all[r.IntN(len(all))]); err != nil {
			k.t.Fatal(err)
		}
	}
}

// damage turns one bit of a segment over.
func (k *keepingStudy) damage(r *rand.Rand) {
	all := k.cached("segments")
	if len(all) == 0 {
		return
	}
	path := all[r.IntN(len(all))]
	data, err := os.ReadFile(path)
	if err != nil {
		k.t.Fatal(err)
	}
	data[r.IntN(len(data))] ^= 1 << r.IntN(8)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		k.t.Fatal(err)
	}
}

func (k *keepingStudy) load() *study.Study {
	s, err := study.Load(filepath.Join(k.folder, "study.yaml"))
	if err != nil {
		k.t.Fatal(err)
	}
	return s
}

// Whatever changes between runs, and whatever happens to the cache, a run that takes
// from it gives the bytes of one that makes everything.
func TestKeepingChangesNothing(t *testing.T) {
	k := newKeepingStudy(t)
	withKey(t, k.folder)
	ctx := context.Background()
	rounds, seed := 16, uint64(2)
	if os.Getenv("LENGTHWISE_LONG") != "" {
		rounds, seed = 400, uint64(time.Now().UnixNano())
	}
	r := rand.New(rand.NewPCG(seed, 5))
	var way []string
	harmed, shrunk := false, false // steps that no one can foresee, and files that are only let go of
	for range rounds {
		s := k.load()
		before := k.segments()
		ahead, err := Ahead(ctx, s, Options{Cache: filepath.Join(k.folder, "private/cache/study")})
		if err != nil || (ahead == nil) != (len(way) == 0) {
			t.Fatalf("after %q: %+v, %v", way, ahead, err)
		}
		if now := k.segments(); !maps.Equal(now, before) {
			t.Fatalf("after %q: looking ahead wrote %v", way, now)
		}
		if _, err := Study(ctx, s, Options{Workers: 2, Cache: filepath.Join(k.folder, "private/cache/study")}); err != nil {
			t.Fatalf("after %q: %v", way, err)
		}
		if ahead != nil && !harmed {
			redo := ahead.Files.Redo + ahead.Measured.Redo + ahead.Answered.Redo
			kept := maps.Equal(k.segments(), before)
			if kept && redo > 0 || !kept && redo == 0 && !shrunk {
				t.Fatalf("after %q: %+v, and what was kept stayed as it was: %t", way, ahead, kept)
			}
		}
		got := hashes(t, s.Path(s.Output))
		s.Output = "anew"
		if _, err := Study(ctx, s, Options{Workers: 1 + r.IntN(3)}); err != nil {
			t.Fatalf("after %q: %v", way, err)
		}
		want := hashes(t, s.Path(s.Output))
		if len(got) != len(want) {
			t.Fatalf("after %q: %d files instead of %d", way, len(got), len(want))
		}
		for name := range want {
			if got[name] != want[name] {
				t.Fatalf("after %q: another %s", way, name)
			}
		}
		if err := os.RemoveAll(s.Path("anew")); err != nil {
			t.Fatal(err)
		}
		steps := k.steps(r)
		names := make([]string, 0, len(steps))
		for name := range steps {
			names = append(names, name)
		}
		slices.Sort(names)
		harmed, shrunk = false, false
		for range 1 + r.IntN(2) {
			name := names[r.IntN(len(names))]
			harmed = harmed || strings.HasPrefix(name, "a damaged") || strings.HasPrefix(name, "a segment") || strings.HasPrefix(name, "a manifest")
			shrunk = shrunk || strings.HasSuffix(name, "gone")
			way = append(way, name)
			steps[name]()
		}
		k.write()
	}
}

// When all files of a swimmer are gone, nothing of what they held stays in the cache.
func TestNothingIsKeptOfFilesThatAreGone(t *testing.T) {
	k := newKeepingStudy(t)
	withKey(t, k.folder)
	o := Options{Workers: 2, Cache: filepath.Join(k.folder, "private/cache/study")}
	ctx := context.Background()
	pseudonymsIn := func() map[string]bool {
		t.Helper()
		found := map[string]bool{}
		for _, path := range k.cached("segments") {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range pseudonym.FindAllString(string(data), -1) {
				found[p] = true
			}
		}
		return found
	}
	if _, err := Study(ctx, k.load(), o); err != nil {
		t.Fatal(err)
	}
	before := pseudonymsIn()
	r, err := Study(ctx, k.load(), o)
	if err != nil {
		t.Fatal(err)
	}
	gone := k.squad.Swimmers[2].Handle
	who := ""
	for p, name := range r.Names {
		if name == gone {
			who = p
		}
	}
	if !before[who] {
		t.Fatalf("%q (%s) is not in the cache to begin with: %v", who, gone, before)
	}
	if err := os.RemoveAll(filepath.Join(k.folder, "watches", gone)); err != nil {
		t.Fatal(err)
	}
	for range 2 { // what was just written is left for another run to delete
		time.Sleep(10 * time.Millisecond)
		k.smallest++
		k.write()
		if _, err := Study(ctx, k.load(), o); err != nil {
			t.Fatal(err)
		}
	}
	if pseudonymsIn()[who] {
		t.Error("the cache still holds what was made of files that are gone")
	}
}

var pseudonym = regexp.MustCompile(`s-[0-9a-z]{8}`)

// One file more is read, and one bucket measured: everything else stays as it lies.
func TestOneFileMoreMakesLittle(t *testing.T) {
	k := newKeepingStudy(t)
	withKey(t, k.folder)
	o := Options{Workers: 2, Cache: filepath.Join(k.folder, "private/cache/study")}
	ctx := context.Background()
	if _, err := Study(ctx, k.load(), o); err != nil {
		t.Fatal(err)
	}
	before := k.segments()
	k.session(1)
	if _, err := Study(ctx, k.load(), o); err != nil {
		t.Fatal(err)
	}
	made, all := map[string]int{}, map[string]int{}
	for path, at := range k.segments() {
		stage, _, _ := strings.Cut(filepath.Base(path), "-")
		all[stage]++
		if was, there := before[path]; !there || !was.Equal(at) {
			made[stage]++
		}
	}
	if made["read"] != 1 || all["read"] < 8 || made["measure"] != 1 || all["measure"] < 4 {
		t.Errorf("made %v of %v segments", made, all)
	}
	if made["at"] != 0 { // at-once: the swimmer of the sheets, whom nothing has touched
		t.Errorf("a swimmer without a new file was asked again: %v", made)
	}
}
