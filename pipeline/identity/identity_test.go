package identity

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/pipeline/study"
)

var testKey = []byte("0123456789abcdef0123456789abcdef")

func member(row int64, name string, aliases ...string) Member {
	return Member{Record: row, Name: name, Aliases: aliases, Consent: ConsentYes}
}

func registry(t *testing.T, p study.Privacy, members []Member, assignments ...Assignment) *Registry {
	t.Helper()
	r, err := New(p, testKey, members, assignments)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestFold(t *testing.T) {
	for _, c := range []struct{ a, b string }{
		{" Ana  Lima ", "ana lima"},
		{"Ana\u00a0Lima", "ana lima"},
		{"Jose\u0301", "JOS\u00c9"},
		{"Wei\u00df", "WEISS"},
		{"\uff21na", "ana"},
		{"\u03a3\u03af\u03c3\u03c5\u03c6\u03bf\u03c2", "\u03c3\u03af\u03c3\u03c5\u03c6\u03bf\u03c3"},
		{"Ana\tLima\n", "ANA LIMA"},
	} {
		if Fold(c.a) != Fold(c.b) {
			t.Errorf("%q and %q fold to %q and %q", c.a, c.b, Fold(c.a), Fold(c.b))
		}
	}
	for _, c := range []struct{ a, b string }{{"Jose", "Jos\u00e9"}, {"Ana", "Anna"}, {"Ana Lima", "Lima Ana"}, {"AnaLima", "Ana Lima"}} {
		if Fold(c.a) == Fold(c.b) {
			t.Errorf("%q and %q are taken for one", c.a, c.b)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.String().Draw(t, "name")
		if once := Fold(name); Fold(once) != once {
			t.Fatalf("folding %q twice gives %q after %q", name, Fold(once), once)
		}
		// The short way for ASCII agrees with the long one, which a letter
		// beyond ASCII forces.
		plain := rapid.StringMatching(`[ -~\t]{0,12}`).Draw(t, "plain")
		if got, want := Fold(plain), strings.TrimSuffix(Fold(plain+" \u00e9"), "\u00e9"); got != strings.TrimSuffix(want, " ") {
			t.Fatalf("%q folds to %q, by the long way to %q", plain, got, want)
		}
		if Fold(Tidy(name)) != Fold(name) {
			t.Fatalf("tidying %q changes its fold", name)
		}
	})
}

func TestByName(t *testing.T) {
	yes, no := member(1, "Ana Lima", "AL", "Anita"), member(2, "Ben Ohm")
	yes.Consent, no.Consent = ConsentYes, ConsentNo
	r := registry(t, study.Privacy{}, []Member{yes, no})
	ana := r.ByName("Ana Lima")
	if !regexp.MustCompile(`^s-[0-9a-hjkmnp-tv-z]{8}$`).MatchString(ana.Swimmer) || ana.Refused != "" || ana.How != "roster" {
		t.Fatalf("owner %+v", ana)
	}
	for _, name := range []string{"ana lima", " ANITA ", "al"} {
		if got := r.ByName(name); got != ana {
			t.Errorf("%q: %+v, want %+v", name, got, ana)
		}
	}
	if got := r.ByName("Ben Ohm"); got.Refused != NoConsent || got.Swimmer == "" {
		t.Errorf("without consent: %+v", got)
	}
	for _, name := range []string{"Anna Lima", "", "  "} {
		if got := r.ByName(name); got != (Owner{Refused: NoSwimmer}) {
			t.Errorf("%q: %+v", name, got)
		}
	}
	if m, ok := r.Member(ana.Swimmer); !ok || m.Name != "Ana Lima" {
		t.Errorf("Member: %+v, %v", m, ok)
	}
	if _, ok := r.Member("s-00000000"); ok {
		t.Error("a pseudonym of nobody has a member")
	}
}

func TestWithoutARosterEveryNameCounts(t *testing.T) {
	r := registry(t, study.Privacy{}, nil)
	a, b := r.ByName("Ana"), r.ByName(" ANA ")
	if a.Swimmer == "" || a != b || a.How != "sheet" {
		t.Errorf("%+v and %+v", a, b)
	}
	if r.ByName("Ben").Swimmer == a.Swimmer {
		t.Error("two names, one pseudonym")
	}
	if got := r.ByFile("Ana", "x.fit", ""); got.Swimmer != a.Swimmer || got.How != "path" {
		t.Errorf("by path: %+v", got)
	}
	if got := r.ByName(""); got.Refused != NoSwimmer {
		t.Errorf("no name: %+v", got)
	}
	// An empty roster is a roster.
	if got := registry(t, study.Privacy{}, []Member{}).ByName("Ana"); got.Refused != NoSwimmer {
		t.Errorf("empty roster: %+v", got)
	}
}

func TestPseudonymsHangOnKeyAndName(t *testing.T) {
	one := registry(t, study.Privacy{}, nil)
	other, err := New(study.Privacy{}, []byte(strings.Repeat("k", 32)), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if one.ByName("Ana").Swimmer == other.ByName("Ana").Swimmer {
		t.Error("another key gives the same pseudonym")
	}
	// The alias does not count, the roster's name does.
	if registry(t, study.Privacy{}, []Member{member(1, "Ana", "A")}).ByName("a").Swimmer != one.ByName("Ana").Swimmer {
		t.Error("a roster with aliases changes the pseudonym")
	}
	// A file or recorder called like a swimmer tells nothing.
	ids := map[string]bool{one.ByName("ana").Swimmer[2:]: true, one.FileID("ana")[2:10]: true, one.DeviceHash("ana")[2:10]: true}
	if len(ids) != 3 {
		t.Errorf("kinds share a hash: %v", ids)
	}
	if one.FileID("a/Jos\u00e9.csv") != one.FileID("./a/Jose\u0301.csv") {
		t.Error("one path, two file ids")
	}
	if one.DeviceHash(" ") != "" {
		t.Error("no serial number has an id")
	}
}

// HMAC-SHA-256 of "swimmer" 0x00 "ana" under testKey, computed with Python's
// hmac module (hmac.new(key, msg, "sha256")): its first 40 bits in Crockford's
// base 32.
func TestPseudonymAgainstAnotherImplementation(t *testing.T) {
	const want = "s-czn6w5ck"
	if got := registry(t, study.Privacy{}, nil).ByName("Ana").Swimmer; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func TestAsGiven(t *testing.T) {
	r, err := New(study.Privacy{AsGiven: true}, nil, []Member{member(1, "Ana  Lima", "AL")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := r.ByName("al"); got.Swimmer != "Ana Lima" {
		t.Errorf("owner %+v", got)
	}
	r, err = New(study.Privacy{AsGiven: true}, nil, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := r.ByName("Ana"), r.ByName("ANA"); a.Swimmer != "ana" || a != b {
		t.Errorf("owners %+v, %+v", a, b)
	}
	if _, err := New(study.Privacy{}, nil, nil, nil); err == nil {
		t.Error("pseudonyms without a key")
	}
}

func TestClashesNameRowsNotPeople(t *testing.T) {
	a, b, c := member(3, "Ana", "Bee"), member(7, "bee"), member(9, "Cy", "cy", "CY")
	a.Devices, c.Devices = []string{"123"}, []string{" 123", "123"}
	_, err := New(study.Privacy{}, testKey, []Member{a, b, c}, nil)
	if err == nil {
		t.Fatal("no error")
	}
	text := err.Error()
	for _, want := range []string{"rows 3 and 7 both claim a name", "rows 3 and 9 both claim a device"} {
		if !strings.Contains(text, want) {
			t.Errorf("error %q lacks %q", text, want)
		}
	}
	if strings.Contains(strings.ToLower(text), "bee") || strings.Contains(text, "123") {
		t.Errorf("error %q tells a name or a device", text)
	}
	var clash *ClashError
	if !errors.As(err, &clash) || clash.Value != "bee" || clash.Records != [2]int64{3, 7} {
		t.Errorf("clash %+v", clash)
	}
	if strings.Count(text, "rows") != 2 {
		t.Errorf("a member clashes with itself: %q", text)
	}
	if _, err := New(study.Privacy{}, testKey, []Member{member(4, " ")}, nil); err == nil || !strings.Contains(err.Error(), "row 4") {
		t.Errorf("a member without a name: %v", err)
	}
}

func TestByFileOrderAndConflicts(t *testing.T) {
	ana, ben, cy := member(1, "Ana"), member(2, "Ben"), member(3, "Cy")
	ana.Devices, cy.Consent = []string{"11"}, ConsentNo
	r := registry(t, study.Privacy{}, []Member{ana, ben, cy},
		Assignment{1, "in/1.fit", "ben"}, Assignment{2, "in/*.fit", "Ana"}, Assignment{3, "in/1.fit", "BEN"},
		Assignment{4, "two/*.fit", "Ana"}, Assignment{5, "two/?.fit", "Ben"},
		Assignment{6, "three/1.fit", "Dora"}, Assignment{7, "four/1.fit", " "})
	id := func(name string) string { return r.ByName(name).Swimmer }
	cases := []struct {
		what, swimmer, path, device string
		want                        Owner
	}{
		{"exact row over pattern", "", "in/1.fit", "", Owner{id("Ben"), "", "assign", ""}},
		{"pattern", "", "in/2.fit", "", Owner{id("Ana"), "", "assign", ""}},
		{"assign over all", "cy", "in/1.fit", "11", Owner{id("Ben"), "", "assign", "path, device"}},
		{"agreeing", "ana", "in/2.fit", "11", Owner{id("Ana"), "", "assign", ""}},
		{"rows disagree", "ana", "two/1.fit", "", Owner{"", NoSwimmer, "assign", "assign"}},
		{"assigned to a stranger", "ana", "three/1.fit", "11", Owner{"", NoSwimmer, "assign", "path, device"}},
		{"row to complete", "ana", "four/1.fit", "", Owner{id("Ana"), "", "path", ""}},
		{"path over device", "ben", "x.fit", "11", Owner{id("Ben"), "", "path", "device"}},
		{"path of a stranger", "squad", "x.fit", "11", Owner{id("Ana"), "", "device", ""}},
		{"no consent", "cy", "x.fit", "", Owner{id("Cy"), NoConsent, "path", ""}},
		{"nobody", "", "x.fit", "12", Owner{"", NoSwimmer, "", ""}},
	}
	for _, c := range cases {
		if got := r.ByFile(c.swimmer, c.path, c.device); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.what, got, c.want)
		}
	}
}

func TestCollisionsAreFound(t *testing.T) {
	r := registry(t, study.Privacy{}, nil)
	r.ids.swimmer = 1 // 32 pseudonyms: 33 names must collide
	var all sync.WaitGroup
	for i := range 33 {
		all.Add(1)
		go func() { defer all.Done(); r.ByName(strings.Repeat("x", i+1)) }()
	}
	all.Wait()
	if err := r.Collisions(); !errors.Is(err, ErrCollision) {
		t.Errorf("error %v", err)
	}
	fine := registry(t, study.Privacy{}, nil)
	for range 3 {
		fine.ByName("Ana")
	}
	if err := fine.Collisions(); err != nil {
		t.Errorf("one name thrice: %v", err)
	}
}

func TestRegistryKeepsItsOwnCopies(t *testing.T) {
	members := []Member{member(1, "Ana", "A")}
	medicated := true
	members[0].RateAlteringMedication = &medicated
	r := registry(t, study.Privacy{}, members)
	members[0].Name, members[0].Aliases[0], medicated = "X", "X", false
	got := r.Members()
	got[0].Aliases[0] = "Y"
	if m := r.Members()[0]; m.Name != "Ana" || m.Aliases[0] != "A" || !*m.RateAlteringMedication {
		t.Errorf("member %+v", m)
	}
}

func TestNearest(t *testing.T) {
	r := registry(t, study.Privacy{}, []Member{member(1, "Ana Lima", "Anita"), member(2, "Ben Ohm"), member(3, "Anna Lind")})
	if got := r.Nearest("anna lima", 2); !reflect.DeepEqual(got, []string{"Ana Lima", "Anna Lind"}) {
		t.Errorf("got %q", got)
	}
}

func TestKeyFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "study.key")
	if _, err := LoadKey(path); !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), "lengthwise init") {
		t.Errorf("missing: %v", err)
	}
	if err := CreateKey(path); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	key, err := LoadKey(path)
	if err != nil || len(key) != 32 {
		t.Fatalf("key of %d bytes, %v", len(key), err)
	}
	if err := CreateKey(path); !errors.Is(err, fs.ErrExist) {
		t.Errorf("creating again: %v", err)
	}
	if again, _ := LoadKey(path); !reflect.DeepEqual(again, key) {
		t.Error("creating again changed the key")
	}
	second := filepath.Join(t.TempDir(), "k")
	if err := CreateKey(second); err != nil {
		t.Fatal(err)
	}
	if other, _ := LoadKey(second); reflect.DeepEqual(other, key) {
		t.Error("two new keys are equal")
	}
	for _, mode := range []os.FileMode{0o644, 0o640, 0o604} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		if _, err := LoadKey(path); err == nil || !strings.Contains(err.Error(), "chmod 600") {
			t.Errorf("mode %04o: %v", mode, err)
		}
	}
	for _, text := range []string{"", "abc", "zz" + strings.Repeat("0", 62), "00ff", strings.Repeat("0", 4096)} {
		bad := filepath.Join(t.TempDir(), "k")
		if err := os.WriteFile(bad, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := LoadKey(bad); err == nil || !strings.Contains(err.Error(), "holds no key") {
			t.Errorf("%.8q: %v", text, err)
		}
	}
}

func TestPrivateMaps(t *testing.T) {
	seen := []Seen{{"s-b", "Ben"}, {"s-a", " Lima,  \"Ana\""}, {"s-b", "Ben"}, {"s-b", "B."}}
	want := "pseudonym,name\ns-a,\"Lima, \"\"Ana\"\"\"\ns-b,B.\ns-b,Ben\n"
	if got := string(SwimmerMap(seen)); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if seen[0].Name != "Ben" || seen[1].Swimmer != "s-a" {
		t.Error("the caller's list was changed")
	}
	if got := string(FileMap([]FileName{{"f-2", "b.csv"}, {"f-1", "a.csv"}})); got != "file_id,path\nf-1,a.csv\nf-2,b.csv\n" {
		t.Errorf("got %s", got)
	}
}
