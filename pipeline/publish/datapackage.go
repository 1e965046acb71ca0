package publish

import (
	"encoding/json"
	"fmt"
	"strings"
)

// The published profiles that the descriptor follows (Data Package 2.0, 2024).
const (
	profilePackage  = "https://datapackage.org/profiles/2.0/datapackage.json"
	profileResource = "https://datapackage.org/profiles/2.0/dataresource.json"
	profileSchema   = "https://datapackage.org/profiles/2.0/tableschema.json"
)

type dataPackage struct {
	Schema      string         `json:"$schema"`
	Name        string         `json:"name"`
	Title       string         `json:"title"`
	Description string         `json:"description"`
	Version     string         `json:"version"`
	Licences    []licence      `json:"licenses,omitempty"`
	Resources   []dataResource `json:"resources"`
}

// licence is one that the set is released under; the profile wants a name or a
// path.
type licence struct {
	Name  string `json:"name"`
	Title string `json:"title"`
}

type dataResource struct {
	Schema      string      `json:"$schema"`
	Name        string      `json:"name"`
	Type        string      `json:"type"`
	Path        string      `json:"path"`
	Description string      `json:"description"`
	Format      string      `json:"format"`
	Media       string      `json:"mediatype"`
	Bytes       int64       `json:"bytes"`
	Hash        string      `json:"hash"`
	Table       tableSchema `json:"schema"`
}

type tableSchema struct {
	Schema     string        `json:"$schema"`
	Fields     []schemaField `json:"fields"`
	PrimaryKey []string      `json:"primaryKey,omitempty"`
}

type schemaField struct {
	Name        string       `json:"name"`
	Type        string       `json:"type"`
	Description string       `json:"description"`
	Unit        string       `json:"unit,omitempty"` // an extra property, which the profile allows
	Constraints *constraints `json:"constraints,omitempty"`
}

type constraints struct {
	Required bool `json:"required"`
}

// DataPackage describes the set as a Data Package 2.0: one resource a file,
// each with its Table Schema, bytes and SHA-256. A table in several files is
// several resources, as Parquet files do not become one by being joined.
func DataPackage(p Package) ([]byte, error) {
	d := dataPackage{
		Schema: profilePackage, Name: slug(p.Study), Title: "The study " + p.Study,
		Description: "Recordings of a squad's swimming, screened and measured, and what they say of stroke rate, score and cost. " + p.terms(),
		Version:     p.Version,
	}
	if p.Licence != "" {
		d.Licences = []licence{{Name: licenceName(p.Licence), Title: p.Licence}}
	}
	for _, t := range p.Tables {
		schema := tableSchema{Schema: profileSchema}
		for _, f := range t.Fields {
			field := schemaField{Name: f.Name, Description: f.About, Unit: f.Unit}
			var err error
			if field.Type, err = fieldType(f.Type); err != nil {
				return nil, fmt.Errorf("data package: table %s, column %s: %w", t.Name, f.Name, err)
			}
			if !f.Null {
				field.Constraints = &constraints{Required: true}
			}
			if f.Key {
				schema.PrimaryKey = append(schema.PrimaryKey, f.Name)
			}
			schema.Fields = append(schema.Fields, field)
		}
		for _, file := range t.Files {
			d.Resources = append(d.Resources, dataResource{
				Schema: profileResource, Name: resourceName(t, file), Type: "table", Path: file.Path, Description: t.About,
				Format: "parquet", Media: mediaParquet, Bytes: file.Bytes, Hash: "sha256:" + file.SHA256, Table: schema,
			})
		}
	}
	return indented(d, "data package")
}

const mediaParquet = "application/vnd.apache.parquet"

// resourceName is the table's name, with the file's own where there are
// several.
func resourceName(t PackageTable, file PackageFile) string {
	if len(t.Files) == 1 {
		return t.Name
	}
	path := strings.TrimSuffix(file.Path, ".parquet")
	return slug(t.Name + "-" + path[strings.LastIndexByte(path, '/')+1:])
}

// fieldType is the Table Schema type of a column's type.
func fieldType(t string) (string, error) {
	switch t {
	case "string", "boolean":
		return t, nil
	case "int32", "int64":
		return "integer", nil
	case "double":
		return "number", nil
	case "timestamp":
		return "datetime", nil
	}
	return "", fmt.Errorf("the type %q has no counterpart", t)
}

// licenceName is what the profile takes for a licence's name: letters, digits,
// hyphen, dot and underscore.
func licenceName(licence string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '_', r == '-':
			return r
		}
		return '-'
	}, licence)
}

// slug makes a name of a-z, 0-9, hyphen, dot and underscore.
func slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '.', r == '_', r == '-':
			b.WriteRune(r)
		default:
			b.WriteByte('-')
		}
	}
	if s := strings.Trim(b.String(), "-."); s != "" {
		return s
	}
	return "study"
}

func indented(v any, what string) ([]byte, error) {
	data, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return append(data, '\n'), nil
}
