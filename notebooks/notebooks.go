// Package notebooks holds the notebooks for the three users, without outputs, and
// the charts that they draw (Vega-Lite specifications, each with named data "rows"
// and the word UNIT where the cost's unit belongs), and makes them ready for one
// study. Each has one cell tagged "parameters", whose
// first line is OUT, the path to the study's output folder.
//
// The notebooks read the tables of a finished study. What they compute
// themselves stands beside the same number of a table, and an assertion fails
// where the two part.
package notebooks

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
)

//go:embed *.ipynb requirements.txt charts/*.vl.json
var files embed.FS

// Requirements is the name of the list of Python packages that the notebooks
// import.
const Requirements = "requirements.txt"

// File is one file as it is written beside a study.
type File struct {
	Name string // with forward slashes
	Data []byte
}

// Parameters are the values of a notebook's parameters cell. Paths use forward
// slashes, and relative ones start at the notebook's folder.
type Parameters struct {
	Out   string // the study's output folder
	Names string // the private list of names; "" leaves pseudonyms
}

// Files returns the notebooks with the parameters set, the charts that they draw
// and the list of packages, in order of their names.
func Files(p Parameters) ([]File, error) {
	var out []File
	err := fs.WalkDir(files, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := files.ReadFile(name)
		if err == nil && path.Ext(name) == ".ipynb" {
			data, err = set(data, p)
		}
		if err != nil {
			return fmt.Errorf("notebook %s: %w", name, err)
		}
		out = append(out, File{name, data})
		return nil
	})
	return out, err
}

// notebook is a notebook in format 4.5; what is not looked at stays as it is.
type notebook struct {
	Cells    []json.RawMessage `json:"cells"`
	Metadata json.RawMessage   `json:"metadata"`
	Format   int               `json:"nbformat"`
	Minor    int               `json:"nbformat_minor"`
}

// codeCell is a code cell, with the keys in the order in which they are
// written.
type codeCell struct {
	Type     string            `json:"cell_type"`
	Count    *int              `json:"execution_count"`
	ID       string            `json:"id"`
	Metadata cellMetadata      `json:"metadata"`
	Outputs  []json.RawMessage `json:"outputs"`
	Source   []string          `json:"source"`
}

type cellMetadata struct {
	Jupyter *struct {
		SourceHidden bool `json:"source_hidden"`
	} `json:"jupyter,omitempty"`
	Tags []string `json:"tags,omitempty"`
}

const parametersTag = "parameters"

// set gives the parameters cell its values.
func set(data []byte, p Parameters) ([]byte, error) {
	var nb notebook
	if err := json.Unmarshal(data, &nb); err != nil {
		return nil, err
	}
	found := 0
	for i, raw := range nb.Cells {
		var cell codeCell
		if err := json.Unmarshal(raw, &cell); err != nil {
			return nil, fmt.Errorf("cell %d: %w", i+1, err)
		}
		if !slices.Contains(cell.Metadata.Tags, parametersTag) {
			continue
		}
		found++
		assigned := assign(cell.Source, "OUT", p.Out)
		if p.Names != "" {
			assign(cell.Source, "NAMES", p.Names) // not every notebook can show names
		}
		if !assigned {
			return nil, fmt.Errorf("cell %d is tagged %q and does not set OUT", i+1, parametersTag)
		}
		var err error
		if nb.Cells[i], err = encode(cell, ""); err != nil {
			return nil, err
		}
	}
	if found != 1 {
		return nil, fmt.Errorf("%d cells are tagged %q, want one", found, parametersTag)
	}
	return encode(nb, " ")
}

// assign replaces the value in the line that assigns to a variable and keeps
// the remark behind it.
func assign(source []string, variable, value string) bool {
	for i, line := range source {
		rest, ok := strings.CutPrefix(line, variable+" = ")
		if !ok {
			continue
		}
		remark := ""
		if _, after, ok := strings.Cut(rest, "#"); ok {
			remark = "   # " + strings.TrimSpace(after)
		}
		end := ""
		if strings.HasSuffix(line, "\n") {
			end = "\n"
		}
		source[i] = variable + " = " + strconv.Quote(value) + remark + end // Go's escapes are Python's too
		return true
	}
	return false
}

// encode writes JSON as notebooks are kept: signs of markup as they are.
func encode(v any, indent string) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", indent)
	err := e.Encode(v)
	return b.Bytes(), err
}
