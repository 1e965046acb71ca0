package notebooks

import (
	"bytes"
	"encoding/json"
	"io/fs"
	"os"
	"path"
	"regexp"
	"strings"
	"testing"
)

func kept(t *testing.T) map[string][]byte {
	t.Helper()
	names, err := fs.Glob(files, "*.ipynb")
	if err != nil || len(names) < 4 {
		t.Fatalf("%d notebooks (%v), want one for each user and one in SQL", len(names), err)
	}
	out := map[string][]byte{}
	for _, name := range names {
		data, err := files.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = data
	}
	return out
}

// What is kept in git holds no output, no count of executions and nothing of
// the machine it was written on, in one form, so that a diff shows what changed.
func TestKeptWithoutOutputs(t *testing.T) {
	for name, data := range kept(t) {
		if err := stripped(data); err != "" {
			t.Errorf("%s: %s", name, err)
		}
	}
	// The check sees what it is for.
	sample := kept(t)["tables.ipynb"]
	for what, dirty := range map[string][]byte{
		"an output":   bytes.Replace(sample, []byte(`"outputs": []`), []byte(`"outputs": [{"output_type": "stream"}]`), 1),
		"a count":     bytes.Replace(sample, []byte(`"execution_count": null`), []byte(`"execution_count": 3`), 1),
		"other form":  bytes.Replace(sample, []byte("\n "), []byte("\n  "), 1),
		"cell stamps": bytes.Replace(sample, []byte(`"metadata": {}`), []byte(`"metadata": {"execution": {}}`), 1),
	} {
		if bytes.Equal(dirty, sample) || stripped(dirty) == "" {
			t.Errorf("%s goes unseen", what)
		}
	}
}

func stripped(data []byte) string {
	var nb notebook
	if err := json.Unmarshal(data, &nb); err != nil {
		return err.Error()
	}
	if nb.Format != 4 || nb.Minor != 5 {
		return "not in format 4.5"
	}
	ids := map[string]bool{}
	for _, raw := range nb.Cells {
		var cell codeCell
		if err := json.Unmarshal(raw, &cell); err != nil {
			return err.Error()
		}
		if len(cell.Outputs) > 0 || cell.Count != nil {
			return "cell " + cell.ID + " was executed: strip its outputs"
		}
		if ids[cell.ID] || cell.ID == "" {
			return "cell id " + cell.ID + " is missing or occurs twice"
		}
		ids[cell.ID] = true
		var loose struct {
			Metadata map[string]json.RawMessage `json:"metadata"`
		}
		if err := json.Unmarshal(raw, &loose); err != nil {
			return err.Error()
		}
		for key := range loose.Metadata {
			if key != "tags" && key != "jupyter" {
				return "cell " + cell.ID + " carries " + key
			}
		}
	}
	again, err := encode(nb, " ")
	if err != nil {
		return err.Error()
	}
	if !bytes.Equal(again, data) {
		return "not in the form in which notebooks are kept (JSON indented by one, keys as they are)"
	}
	return ""
}

func TestParametersAreSet(t *testing.T) {
	for _, out := range []string{"../out", `C:\squad "blue"\out`, "Zürich/😀\n"} {
		written, err := Files(Parameters{Out: out, Names: "../private/swimmers.csv"})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range written {
			if path.Ext(f.Name) != ".ipynb" {
				continue
			}
			if problem := stripped(f.Data); problem != "" {
				t.Errorf("%s: %s", f.Name, problem)
			}
			source := parametersOf(t, f.Data)
			line, _, _ := strings.Cut(source, "\n")
			literal := regexp.MustCompile(`^OUT = ("(?:[^"\\]|\\.)*")`).FindStringSubmatch(line)
			if literal == nil {
				t.Errorf("%s: the parameters cell reads %q", f.Name, source)
				continue
			}
			var value string
			if err := json.Unmarshal([]byte(literal[1]), &value); err != nil || value != out {
				t.Errorf("%s: OUT is %q (%v), want %q", f.Name, value, err, out)
			}
			if f.Name == "squad.ipynb" && !strings.Contains(source, `NAMES = "../private/swimmers.csv"`) {
				t.Errorf("names are not set: %q", source)
			}
		}
	}
}

func parametersOf(t *testing.T, data []byte) string {
	t.Helper()
	var nb notebook
	if err := json.Unmarshal(data, &nb); err != nil {
		t.Fatal(err)
	}
	for _, raw := range nb.Cells {
		var cell codeCell
		if err := json.Unmarshal(raw, &cell); err != nil {
			t.Fatal(err)
		}
		if len(cell.Metadata.Tags) > 0 {
			return strings.Join(cell.Source, "")
		}
	}
	return ""
}

func TestNoParametersNoNotebook(t *testing.T) {
	for what, data := range map[string]string{
		"none":    `{"cells": [], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}`,
		"no OUT":  `{"cells": [{"cell_type": "code", "id": "a", "metadata": {"tags": ["parameters"]}, "source": ["x = 1"]}], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}`,
		"no JSON": `{`,
	} {
		if _, err := set([]byte(data), Parameters{Out: "out"}); err == nil {
			t.Errorf("%s: no error", what)
		}
	}
}

// What the notebooks import is pinned, and the tests run the same versions.
func TestRequirementsAgree(t *testing.T) {
	tested, err := os.ReadFile("../testdata/tools/requirements.txt")
	if err != nil {
		t.Fatal(err)
	}
	list, err := files.ReadFile(Requirements)
	if err != nil {
		t.Fatal(err)
	}
	pins := 0
	for _, line := range strings.Split(string(list), "\n") {
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		pins++
		if !strings.Contains(line, "==") {
			t.Errorf("%s is not pinned", line)
		}
		if !strings.HasPrefix(line, "jupyterlab==") && !strings.Contains("\n"+string(tested), "\n"+line+"\n") {
			t.Errorf("%s is not what testdata/tools/requirements.txt has", line)
		}
	}
	if pins < 5 {
		t.Errorf("only %d packages listed", pins)
	}
}

// Every chart names its data, loads nothing, says what it shows and is drawn by a
// notebook.
func TestCharts(t *testing.T) {
	names, err := fs.Glob(files, "charts/*.vl.json")
	if err != nil || len(names) < 4 {
		t.Fatalf("%d charts (%v)", len(names), err)
	}
	notebooks := ""
	for _, data := range kept(t) {
		notebooks += string(data)
	}
	for _, name := range names {
		data, err := files.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var chart struct {
			Schema      string `json:"$schema"`
			Description string `json:"description"`
			Data        map[string]string
		}
		if err := json.Unmarshal(data, &chart); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if !strings.HasPrefix(chart.Schema, "https://vega.github.io/schema/vega-lite/v5") || chart.Description == "" || chart.Data["name"] != "rows" || len(chart.Data) != 1 {
			t.Errorf("%s: schema %q, description %q, data %v", name, chart.Schema, chart.Description, chart.Data)
		}
		if bytes.Contains(data, []byte(`"url"`)) || bytes.Contains(data, []byte(`"href"`)) {
			t.Errorf("%s loads or links", name)
		}
		base := strings.TrimSuffix(path.Base(name), ".vl.json")
		if !strings.Contains(notebooks, `draw(\"`+base+`\"`) {
			t.Errorf("no notebook draws %s", base)
		}
	}
}
