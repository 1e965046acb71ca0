package publish

// Package is a published set as its descriptions see it: what the tables are,
// what their columns mean, and what went in.
type Package struct {
	Study     string // name of the study
	Version   string // of the program
	Pseudonym bool   // swimmers appear by pseudonym
	Released  bool   // made to be passed on
	Licence   string // of a released set; "" for none granted
	LastDate  string // YYYY-MM-DD of the last session: the set's date, as the program keeps no clock
	CostUnit  string // unit of columns whose unit is the cost measure's
	Tables    []PackageTable
	Others    []PackageFile // files that are no tables, descriptions aside
	Inputs    []PackageFile // what was read; their Path is an id, as inputs stay at home
}

// PackageTable is one table with its files.
type PackageTable struct {
	Name, About string
	Fields      []PackageField
	Files       []PackageFile
}

// PackageField is one column.
type PackageField struct {
	Name  string
	Type  string // string, boolean, int32, int64, double or timestamp
	Unit  string // "" for none
	About string
	Null  bool // values can be missing
	Key   bool // part of what identifies a row
}

// PackageFile is one file, by its path within the set.
type PackageFile struct {
	Path   string
	About  string
	Media  string // media type
	Bytes  int64
	SHA256 string // hexadecimal
}

// terms is what the descriptions say of the use of the set.
func (p Package) terms() string {
	who := "Swimmers appear by pseudonym; pseudonymised health data are still personal data."
	if !p.Pseudonym {
		who = "Swimmers appear by name: for the squad's own eyes."
	}
	if p.Released && p.Licence != "" {
		return who + " The squad releases the set under: " + p.Licence + "."
	}
	return who + " All rights stay with the squad; ask it before passing the set on."
}
