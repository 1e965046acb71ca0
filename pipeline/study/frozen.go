package study

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// FrozenFile is the analysis plan as it was frozen, beside the study file.
const FrozenFile = "frozen.yaml"

// Frozen is how a study stands to the analysis plan that its study file froze.
type Frozen struct {
	SHA256     string   `json:"sha256"`     // of the frozen plan's file
	FilesThen  int      `json:"files_then"` // input files that the study's folder held when it was frozen
	Departures []string `json:"departures"` // what differs from the plan, in words; empty when it was followed
}

// Followed tells whether nothing differs from the plan.
func (f *Frozen) Followed() bool { return f != nil && len(f.Departures) == 0 }

// Plan is the analysis plan in canonical YAML: how records are screened, cost is
// measured, what is asked, and which changes are looked at. Inputs, people and
// places are no part of it; a change of named swimmers says how many they are.
func (s *Study) Plan() []byte {
	root := mappingOf()
	s.addMethod(root)
	if len(s.Changes) > 0 {
		add(root, "changes", listOf(s.Changes, func(c Change) *yaml.Node {
			return changeNode(c, func(string) string { return "somebody" })
		}))
	}
	return encoded(root)
}

// FrozenText is what FrozenFile holds for the study as it is: the plan, and how
// many input files there were.
func (s *Study) FrozenText(files int) []byte {
	var b strings.Builder
	b.WriteString("# The analysis plan of this study, as it was frozen by \"lengthwise freeze\".\n")
	b.WriteString("# Its SHA-256 stands in the study file. Leave this file as it is.\n")
	fmt.Fprintf(&b, "files_then: %d\nplan:\n", files)
	for line := range strings.Lines(string(s.Plan())) {
		b.WriteString("  " + line)
	}
	return []byte(b.String())
}

// HashOf is the hex SHA-256 of a frozen plan's file.
func HashOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// CheckFrozen compares the study with the plan that its file froze; nil where it
// froze none. A departure is no error: it is said.
func (s *Study) CheckFrozen() (*Frozen, error) {
	if s.Frozen == "" {
		return nil, nil
	}
	f := &Frozen{SHA256: s.Frozen, Departures: []string{}}
	data, err := os.ReadFile(filepath.Join(s.Folder, FrozenFile))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		f.Departures = append(f.Departures, "the plan itself, "+FrozenFile+", is not there, so that nobody can tell what was planned")
		return f, nil
	case err != nil:
		return nil, fmt.Errorf("the frozen plan: %w", err)
	case len(data) > largestFile || HashOf(data) != s.Frozen:
		f.Departures = append(f.Departures, FrozenFile+" is not the file that was frozen: its SHA-256 is another")
		return f, nil
	}
	var frozen struct {
		FilesThen int       `yaml:"files_then"`
		Plan      yaml.Node `yaml:"plan"`
	}
	if err := yaml.Unmarshal(data, &frozen); err != nil {
		f.Departures = append(f.Departures, FrozenFile+" cannot be read as a plan")
		return f, nil
	}
	var now yaml.Node
	if err := yaml.Unmarshal(s.Plan(), &now); err != nil {
		return nil, fmt.Errorf("the plan as it is: %w", err)
	}
	f.FilesThen = frozen.FilesThen
	planned, is := map[string]string{}, map[string]string{}
	flatten(&frozen.Plan, "", planned)
	flatten(&now, "", is)
	var keys []string
	for key := range planned {
		keys = append(keys, key)
	}
	for key := range is {
		if _, ok := planned[key]; !ok {
			keys = append(keys, key)
		}
	}
	slices.Sort(keys)
	for _, key := range keys {
		was, wasThere := planned[key]
		now, there := is[key]
		switch {
		case wasThere && there && was == now:
		case !wasThere:
			f.Departures = append(f.Departures, fmt.Sprintf("%s is %s, and was not planned", key, now))
		case !there:
			f.Departures = append(f.Departures, fmt.Sprintf("%s was planned as %s, and is not there", key, was))
		default:
			f.Departures = append(f.Departures, fmt.Sprintf("%s is %s, and was planned as %s", key, now, was))
		}
	}
	return f, nil
}

// flatten gives each value of a YAML tree by its path; an empty list or mapping is
// a value too.
func flatten(node *yaml.Node, path string, into map[string]string) {
	join := func(key string) string {
		if path == "" {
			return key
		}
		return path + "." + key
	}
	switch {
	case node.Kind == yaml.DocumentNode:
		for _, child := range node.Content {
			flatten(child, path, into)
		}
	case node.Kind == yaml.MappingNode && len(node.Content) > 0:
		for i := 0; i+1 < len(node.Content); i += 2 {
			flatten(node.Content[i+1], join(node.Content[i].Value), into)
		}
	case node.Kind == yaml.SequenceNode && len(node.Content) > 0 && node.Content[0].Kind == yaml.ScalarNode:
		var items []string
		for _, child := range node.Content {
			items = append(items, child.Value)
		}
		into[path] = "[" + strings.Join(items, ", ") + "]"
	case node.Kind == yaml.SequenceNode && len(node.Content) > 0:
		for i, child := range node.Content {
			flatten(child, fmt.Sprintf("%s[%d]", path, i+1), into)
		}
	case node.Kind == yaml.ScalarNode:
		into[path] = node.Value
	default:
		into[path] = "nothing"
	}
}

// Freeze writes the study's plan to FrozenFile and its hash into the study file,
// which keeps all else as it is. files is how many input files there are. It fails,
// and changes nothing, where a plan is frozen already.
func (s *Study) Freeze(files int) (hash string, err error) {
	if s.Frozen != "" {
		return "", fmt.Errorf("the study file froze a plan already (%s...): what differs from it is said in the results; to freeze another, take the line \"frozen:\" and %s away by hand", s.Frozen[:12], FrozenFile)
	}
	text := s.FrozenText(files)
	hash = HashOf(text)
	path := filepath.Join(s.Folder, s.File)
	info, err := os.Stat(path)
	if err != nil {
		return "", fmt.Errorf("study file: %w", err)
	}
	old, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("study file: %w", err)
	}
	added := append(slices.Clone(old), []byte("frozen: "+hash+"\n")...)
	if len(old) > 0 && old[len(old)-1] != '\n' {
		added = append(slices.Clone(old), []byte("\nfrozen: "+hash+"\n")...)
	}
	if again, err := Parse(added, s.File); err != nil || again.Frozen != hash || string(again.Plan()) != string(s.Plan()) {
		return "", fmt.Errorf("a line cannot be added at the end of %s: write its settings one below the other, each key at the start of a line", s.File)
	}
	frozen := filepath.Join(s.Folder, FrozenFile)
	if there, err := os.ReadFile(frozen); err == nil && HashOf(there) != hash {
		return "", fmt.Errorf("%s is there already and holds another plan, though the study file froze none: take it away first", FrozenFile)
	}
	// The plan comes first: a kill between the two leaves nothing that is believed.
	if err := replaceFile(frozen, text, 0o644); err != nil {
		return "", fmt.Errorf("freezing the plan: %w", err)
	}
	if err := replaceFile(path, added, info.Mode().Perm()); err != nil {
		return "", fmt.Errorf("freezing the plan: %w", err)
	}
	return hash, nil
}

// replaceFile puts other content in a file's place, whole or not at all.
func replaceFile(path string, content []byte, mode fs.FileMode) (err error) {
	temporary, err := os.CreateTemp(filepath.Dir(path), ".study-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(temporary.Name()))
		}
	}()
	_, err = temporary.Write(content)
	if err = errors.Join(err, temporary.Chmod(mode), temporary.Sync(), temporary.Close()); err != nil {
		return err
	}
	return os.Rename(temporary.Name(), path)
}
