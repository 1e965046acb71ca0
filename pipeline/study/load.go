package study

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"

	"go.yaml.in/yaml/v3"
)

// largestFile is far more than a study file needs; what is larger is
// something else.
const largestFile = 1 << 20

// Load reads the study file at path over the defaults. What is wrong in the
// file comes back all at once as *Problems, each with its line; a file that
// cannot be read gives the error of the file system.
func Load(path string) (*Study, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("study file: %w", err)
	}
	if info.Size() > largestFile {
		return nil, fmt.Errorf("study file %s: %d bytes is too large for a study file", path, info.Size())
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("study file: %w", err)
	}
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("study file: %w", err)
	}
	s, err := Parse(data, path)
	if err != nil {
		return nil, err
	}
	s.Folder, s.File = filepath.Dir(full), filepath.Base(full)
	if err := s.checkOutput(); err != nil {
		return nil, &Problems{File: path, List: []Problem{{Key: "output", Text: err.Error()}}}
	}
	return s, nil
}

// Parse reads a study file's bytes over the defaults; name is how problems
// call the file. Folder and File stay empty.
func Parse(data []byte, name string) (*Study, error) {
	problems := &Problems{File: name}
	node, err := document(data)
	if err != nil {
		problems.List = append(problems.List, syntaxProblem(err))
		return nil, problems
	}
	s := Default()
	d := &decoder{problems: problems, lines: map[string]int{}}
	if node != nil {
		d.study(node, s)
	}
	d.check(s)
	if err := problems.orNil(); err != nil {
		return nil, err
	}
	return s, nil
}

// document gives the root of the file's only YAML document, nil when the file
// holds none.
func document(data []byte) (*yaml.Node, error) {
	in := yaml.NewDecoder(bytes.NewReader(data))
	var first, second yaml.Node
	if err := in.Decode(&first); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, nil
		}
		return nil, err
	}
	switch err := in.Decode(&second); {
	case err == nil:
		return nil, fmt.Errorf("yaml: line %d: a second document starts here; keep one", second.Line)
	case !errors.Is(err, io.EOF):
		return nil, err
	}
	if len(first.Content) == 0 {
		return nil, nil
	}
	return first.Content[0], nil
}

// yamlLine is how the YAML library says where it stumbled.
var yamlLine = regexp.MustCompile(`^yaml: (?:line (\d+): )?(?s:(.*))$`)

// syntaxProblem takes the line out of a YAML error.
func syntaxProblem(err error) Problem {
	found := yamlLine.FindStringSubmatch(err.Error())
	if found == nil {
		return Problem{Text: "not a YAML file: " + err.Error()}
	}
	line, _ := strconv.Atoi(found[1]) // 0 when the library names no line
	return Problem{Line: line, Text: "not a YAML file: " + found[2]}
}
