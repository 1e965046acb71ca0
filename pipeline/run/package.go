package run

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"

	"lengthwise/pipeline/publish"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// The descriptions of a published set.
const (
	packageFile  = "datapackage.json"
	crateFile    = "ro-crate-metadata.json"
	codebookFile = "CODEBOOK.md"
	citationFile = "CITATION.cff"
)

// describe writes what says to others what the set is. It comes after the
// tables and pages, which it describes, and before run.json, which lists it.
func (w *writer) describe(r *Result, s *study.Study) error {
	p, err := w.packaged(r, s)
	if err != nil {
		return err
	}
	codebook, citation := publish.Codebook(p), publish.Citation(p)
	p.Others = append(p.Others,
		packageFileOf(codebookFile, "what every column is", "text/markdown", codebook),
		packageFileOf(citationFile, "how to cite the set", "application/yaml", citation))
	data, err := publish.DataPackage(p)
	if err != nil {
		return err
	}
	p.Others = append(p.Others, packageFileOf(packageFile, "the tables as a Data Package 2.0", "application/json", data))
	crate, err := publish.Crate(p)
	if err != nil {
		return err
	}
	for _, f := range []struct {
		path string
		data []byte
	}{{codebookFile, codebook}, {citationFile, citation}, {packageFile, data}, {crateFile, crate}} {
		if err := w.file(f.path, f.data); err != nil {
			return err
		}
	}
	return nil
}

func packageFileOf(path, about, media string, data []byte) publish.PackageFile {
	sum := sha256.Sum256(data)
	return publish.PackageFile{Path: path, About: about, Media: media, Bytes: int64(len(data)), SHA256: hex.EncodeToString(sum[:])}
}

func (w *writer) packaged(r *Result, s *study.Study) (publish.Package, error) {
	p := publish.Package{Study: s.Name, Version: Version, Pseudonym: !s.Privacy.AsGiven, CostUnit: s.Cost.Unit()}
	for _, session := range r.Sessions {
		p.LastDate = max(p.LastDate, session.LocalDate)
	}
	for _, d := range schemas.Tables() {
		t, err := packageTable(d, w.tables[d.Name])
		if err != nil {
			return p, err
		}
		p.Tables = append(p.Tables, t)
	}
	for _, path := range slices.Sorted(maps.Keys(w.other)) {
		p.Others = append(p.Others, publish.PackageFile{Path: path, About: "the results in words and figures", Media: "text/html",
			Bytes: w.bytes[path], SHA256: w.other[path]})
	}
	for _, in := range r.Inputs {
		p.Inputs = append(p.Inputs, publish.PackageFile{Path: in.FileID, About: fmt.Sprintf("a recording or list of the squad (%s); it stays at home", in.Kind),
			Bytes: in.Bytes, SHA256: in.SHA256})
	}
	return p, nil
}

// packageTable describes a table with its files.
func packageTable(d schemas.Description, files []tableFile) (publish.PackageTable, error) {
	t := publish.PackageTable{Name: d.Name, About: d.About}
	columns, err := table.Describe(d)
	if err != nil {
		return t, err
	}
	for _, c := range columns {
		t.Fields = append(t.Fields, publish.PackageField{Name: c.Name, Type: string(c.Type), Unit: c.Unit, About: c.About, Null: c.Nullable, Key: c.Key})
	}
	for _, f := range files {
		t.Files = append(t.Files, publish.PackageFile{Path: f.Path, Bytes: f.Bytes, SHA256: f.SHA256})
	}
	slices.SortFunc(t.Files, func(a, b publish.PackageFile) int { return cmp.Compare(a.Path, b.Path) })
	return t, nil
}
