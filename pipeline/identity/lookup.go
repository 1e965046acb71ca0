package identity

import (
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"
	"sync"

	"golang.org/x/text/unicode/norm"

	"lengthwise/pipeline/study"
)

// The rules that refuse an owner's rows.
const (
	NoSwimmer = "no-swimmer" // nobody is known to own them
	NoConsent = "no-consent" // their owner has not consented
)

// Registry answers who swam. It is safe for use by several goroutines, and its
// answers do not depend on the order of the questions.
type Registry struct {
	asGiven     bool
	ids         encoder
	listed      bool // a roster exists: only its names count
	members     []Member
	pseudonyms  []string       // of members
	byName      map[string]int // folded name or alias -> member
	byDevice    map[string]int // serial number -> member
	byPseudonym map[string]int
	assignments []Assignment

	// Whom the study must not take back; set by Forget before anything is asked.
	tombs     encoder
	forgotten map[string]bool

	mu       sync.Mutex
	taken    map[string]string // id -> what it stands for
	collided error
}

// New makes a registry. key is what LoadKey gives; it may be nil only when p
// says as-given. members nil means that there is no roster: then every name
// counts. Rows of the roster that clash come back as *ClashError, all of them
// joined; ErrCollision means that two members got one pseudonym.
func New(p study.Privacy, key []byte, members []Member, assignments []Assignment) (*Registry, error) {
	if !p.AsGiven && len(key) < shortestKey {
		return nil, fmt.Errorf("pseudonyms need a key of at least %d bytes: make one with lengthwise init, or write identify: as-given", shortestKey)
	}
	r := &Registry{
		asGiven:     p.AsGiven,
		ids:         newEncoder(key),
		listed:      members != nil,
		byName:      map[string]int{},
		byDevice:    map[string]int{},
		byPseudonym: map[string]int{},
		assignments: slices.Clone(assignments),
		taken:       map[string]string{},
	}
	for _, m := range members {
		r.members = append(r.members, cloneMember(m))
	}
	if err := r.index(); err != nil {
		return nil, err
	}
	return r, nil
}

// index fills the look-up tables.
func (r *Registry) index() error {
	var wrong []error
	type claimed struct {
		what, key string
		member    int
	}
	told := map[claimed]bool{}
	claim := func(table map[string]int, what, key, value string, i int) {
		if key == "" {
			return
		}
		if j, taken := table[key]; taken && j != i {
			if told[claimed{what, key, i}] {
				return
			}
			told[claimed{what, key, i}] = true
			wrong = append(wrong, &ClashError{What: what, Records: [2]int64{r.members[j].Record, r.members[i].Record},
				Lines: [2]int{r.members[j].Line, r.members[i].Line}, Value: value})
			return
		}
		table[key] = i
	}
	for i, m := range r.members {
		if Fold(m.Name) == "" {
			wrong = append(wrong, fmt.Errorf("roster: row %d has no name", m.Record))
		}
		for _, name := range append([]string{m.Name}, m.Aliases...) {
			claim(r.byName, "name", Fold(name), name, i)
		}
		for _, device := range m.Devices {
			claim(r.byDevice, "device", strings.TrimSpace(device), device, i)
		}
		id := r.swimmerID(m.Name)
		r.pseudonyms = append(r.pseudonyms, id)
		if _, taken := r.byPseudonym[id]; !taken {
			r.byPseudonym[id] = i
		}
	}
	return errors.Join(append(wrong, r.Collisions())...)
}

// ByName answers for a name in a sheet, log or notes.
func (r *Registry) ByName(name string) Owner {
	if i, ok := r.byName[Fold(name)]; ok {
		return r.owner(i, "roster")
	}
	if r.IsForgotten(name) {
		return Owner{Refused: Forgotten}
	}
	if r.listed || Fold(name) == "" {
		return Owner{Refused: NoSwimmer}
	}
	return Owner{Swimmer: r.swimmerID(name), How: "sheet"}
}

// ByFile answers for a file as a whole. pathSwimmer is what stood at
// {swimmer} in its path, relPath its path from the study's folder, device the
// recorder's serial number; each may be "". The assign file outranks the path,
// which outranks the device; Conflict tells when a lower one disagrees. A row
// of the assign file that names somebody outside the roster refuses the file,
// and so do two rows that disagree: nothing is guessed. What leads to somebody who
// was removed from the study is theirs, whatever else it may lead to.
func (r *Registry) ByFile(pathSwimmer, relPath, device string) Owner {
	var answers []Owner
	assigned, split := r.assigned(relPath)
	if split {
		return Owner{Refused: NoSwimmer, How: "assign", Conflict: "assign"}
	}
	if assigned != "" {
		answer := r.ByName(assigned)
		answer.How = "assign"
		answers = append(answers, answer)
	}
	if answer := r.ByName(pathSwimmer); answer.Swimmer != "" || answer.Refused == Forgotten {
		answer.How = "path"
		answers = append(answers, answer)
	}
	if i, ok := r.byDevice[strings.TrimSpace(device)]; ok {
		answers = append(answers, r.owner(i, "device"))
	}
	if len(answers) == 0 {
		return Owner{Refused: NoSwimmer}
	}
	for _, answer := range answers {
		if answer.Refused == Forgotten {
			return Owner{Refused: Forgotten, How: answer.How}
		}
	}
	first := answers[0]
	var others []string
	for _, answer := range answers[1:] {
		if answer.Swimmer != first.Swimmer {
			others = append(others, answer.How)
		}
	}
	first.Conflict = strings.Join(others, ", ")
	return first
}

// assigned is the name that the assign file gives a file, "" when none. A row
// with the file's exact path outranks one with * or ?; split means that rows
// of the same rank name different swimmers.
func (r *Registry) assigned(relPath string) (name string, split bool) {
	exact := false
	for _, a := range r.assignments {
		if Fold(a.Name) == "" || !study.MatchPath(a.File, relPath) {
			continue
		}
		plain := !strings.ContainsAny(a.File, "*?")
		switch {
		case name == "" || plain && !exact:
			name, exact, split = a.Name, plain, false
		case plain == exact && r.swimmerKey(a.Name) != r.swimmerKey(name):
			split = true
		}
	}
	return name, split
}

// swimmerKey is equal for names of one swimmer.
func (r *Registry) swimmerKey(name string) string {
	folded := Fold(name)
	if i, ok := r.byName[folded]; ok {
		return Fold(r.members[i].Name)
	}
	return folded
}

// owner is the answer for a member.
func (r *Registry) owner(i int, how string) Owner {
	if r.memberForgotten(i) {
		return Owner{Refused: Forgotten, How: how}
	}
	o := Owner{Swimmer: r.pseudonyms[i], How: how}
	if r.members[i].Consent != ConsentYes {
		o.Refused = NoConsent
	}
	return o
}

// swimmerID is the pseudonym of a roster name or, without a roster, of a name
// as it stands. As-given it is the roster's spelling; without a roster the
// folded spelling, so that it does not depend on which file is read first.
func (r *Registry) swimmerID(name string) string {
	folded := Fold(name)
	id := r.ids.id(swimmerKind, "s-", r.ids.swimmer, folded)
	if r.asGiven {
		id = folded
		if r.listed {
			id = Tidy(name)
		}
	}
	return r.claimID(swimmerKind, id, folded)
}

// FileID is the id of a file, from its path relative to the study's folder.
func (r *Registry) FileID(relPath string) string {
	clean := path.Clean(norm.NFC.String(relPath))
	return r.claimID(fileKind, r.ids.id(fileKind, "f-", r.ids.file, clean), clean)
}

// DeviceHash is the id of a recorder, "" for no serial number.
func (r *Registry) DeviceHash(serial string) string {
	serial = strings.TrimSpace(serial)
	if serial == "" {
		return ""
	}
	return r.claimID(deviceKind, r.ids.id(deviceKind, "d-", r.ids.device, serial), serial)
}

// claimID notes what an id stands for, and a collision when it already stands
// for something else.
func (r *Registry) claimID(kind, id, text string) string {
	r.mu.Lock()
	defer r.mu.Unlock()
	key := kind + "\x00" + id
	if other, taken := r.taken[key]; taken && other != text {
		if r.collided == nil {
			r.collided = collision(kind, id)
		}
	}
	r.taken[key] = strings.Clone(text) // it may be a piece of a whole file's text
	return id
}

// Collisions is the first collision of ids met so far, nil when none. Ask it
// after everything is read and before anything is written.
func (r *Registry) Collisions() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.collided
}

// Member returns the roster's row of a pseudonym.
func (r *Registry) Member(pseudonym string) (Member, bool) {
	i, ok := r.byPseudonym[pseudonym]
	if !ok {
		return Member{}, false
	}
	return cloneMember(r.members[i]), true
}

// Members returns the roster in its order.
func (r *Registry) Members() []Member {
	members := make([]Member, len(r.members))
	for i, m := range r.members {
		members[i] = cloneMember(m)
	}
	return members
}

// Nearest returns at most n names and aliases of the roster that are spelled
// most like name, for a person to choose from.
func (r *Registry) Nearest(name string, n int) []string {
	var known []string
	for _, m := range r.members {
		known = append(known, m.Name)
		known = append(known, m.Aliases...)
	}
	return study.Nearest(Tidy(name), known, n)
}

func cloneMember(m Member) Member {
	m.Aliases, m.Devices = slices.Clone(m.Aliases), slices.Clone(m.Devices)
	if m.RateAlteringMedication != nil {
		is := *m.RateAlteringMedication
		m.RateAlteringMedication = &is
	}
	return m
}
