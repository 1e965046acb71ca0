package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/pipeline/table/arrowstream"
	"lengthwise/schemas"
)

// tablesOptions are the flags of tables.
type tablesOptions struct {
	format  string
	columns []string
	rows    int
	about   bool
	names   bool
}

func newTables(c *common) *cobra.Command {
	var o tablesOptions
	cmd := &cobra.Command{
		Use:   "tables [NAME]",
		Short: "list, describe and print the tables of a result",
		Long: `Without NAME, list the tables of the study's result. With NAME, print the
table; --describe says what its columns mean.

--format table is for reading (the first rows), csv and json are for other
programs (all rows), arrow is an Arrow IPC stream.

--names prints names in place of pseudonyms, from the study's private folder;
the tables on disk stay as they are. What it prints is for the squad's own eyes.

Exit codes: 0 done; 1 failed; 2 wrong usage, or there is no such table.`,
		Example: `  lengthwise tables
  lengthwise tables bouts --describe
  lengthwise tables score_by_swimmer --columns swimmer,effect_per_10pct,verdict
  lengthwise tables sessions --names
  lengthwise tables lengths --format csv > lengths.csv`,
		Args: arguments(cobra.MaximumNArgs(1)),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return tableNames(), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			s, err := c.load()
			if err != nil {
				return err
			}
			if c.json && o.format == "table" {
				o.format = "json"
			}
			if len(args) == 0 {
				return listTables(c, s)
			}
			return printTable(c, s, args[0], o)
		},
	}
	cmd.Flags().StringVar(&o.format, "format", "table", "table, csv, json, jsonl or arrow")
	cmd.Flags().StringSliceVar(&o.columns, "columns", nil, "these columns only, in this order")
	cmd.Flags().IntVar(&o.rows, "rows", -1, "at most so many rows; 0 means all (table: 20 unless told)")
	cmd.Flags().BoolVar(&o.about, "describe", false, "say what the columns mean instead of printing rows")
	cmd.Flags().BoolVar(&o.names, "names", false, "print names in place of pseudonyms (table, csv and json)")
	return cmd
}

func tableNames() []string {
	var names []string
	for _, d := range schemas.Tables() {
		names = append(names, d.Name)
	}
	return names
}

// tablesFolder is where the study's tables are.
func tablesFolder(s *study.Study) string {
	return filepath.Join(s.Path(s.Output), "tables")
}

// listed is one table as "tables" lists it.
type listed struct {
	Name  string `json:"name"`
	Rows  int64  `json:"rows"`
	About string `json:"about"`
}

func listTables(c *common, s *study.Study) error {
	var all []listed
	for _, d := range schemas.Tables() {
		file, err := openTable(s, d.Name)
		if err != nil {
			return err
		}
		rows := file.Rows()
		if err := file.Close(); err != nil {
			return err
		}
		all = append(all, listed{d.Name, rows, d.About})
	}
	if c.json {
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(all)
	}
	for _, one := range all {
		first := fmt.Sprintf("%-19s %8d  ", one.Name, one.Rows)
		for _, line := range wrap(one.About, c.width, first, strings.Repeat(" ", len(first))) {
			fmt.Fprintln(c.stdout, line)
		}
	}
	return nil
}

// openTable opens a table of the study's result.
func openTable(s *study.Study, name string) (*table.File, error) {
	if !slices.Contains(tableNames(), name) {
		hint := ""
		if near := study.Nearest(name, tableNames(), 1); len(near) > 0 {
			hint = fmt.Sprintf("; did you mean %q?", near[0])
		}
		return nil, usageError{fmt.Errorf("there is no table %q%s There are: %s", name, hint, strings.Join(tableNames(), ", "))}
	}
	file, err := table.OpenTable(tablesFolder(s), name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no result in %s yet; \"lengthwise run\" makes one", tablesFolder(s))
	}
	return file, err
}

func printTable(c *common, s *study.Study, name string, o tablesOptions) (err error) {
	file, err := openTable(s, name)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if o.about {
		return describeTable(c, name)
	}
	if _, err := file.Select(o.columns); err != nil {
		return usageError{err}
	}
	if o.format != "arrow" && !slices.Contains(table.Formats(), table.Format(o.format)) {
		return usageError{fmt.Errorf("there is no format %q; there are table, csv, json, jsonl and arrow", o.format)}
	}
	shown, err := shownNames(s, o)
	if err != nil {
		return err
	}
	limit := -1 // all
	switch {
	case o.rows > 0:
		limit = o.rows
	case o.rows < 0 && o.format == string(table.Text):
		limit = 20
	}
	if o.format == "arrow" {
		return arrowstream.WriteArrowStream(c.stdout, file, o.columns, limit)
	}
	if err := table.PrintShown(c.stdout, file, table.Format(o.format), o.columns, limit, shown); err != nil {
		return err
	}
	if o.format == "table" && limit > 0 && file.Rows() > int64(limit) {
		c.say("%d of %d rows; --rows 0 prints all", limit, file.Rows())
	}
	return nil
}

// shownNames puts names in place of pseudonyms where --names asks for it.
func shownNames(s *study.Study, o tablesOptions) (func(table.Column, string) string, error) {
	if !o.names {
		return nil, nil
	}
	if o.format == "arrow" {
		return nil, usageError{errors.New("--names is for table, csv and json; an Arrow stream carries pseudonyms")}
	}
	who, err := readPeople(s)
	if err != nil {
		return nil, err
	}
	return func(column table.Column, text string) string {
		if column.Name == "swimmer" {
			return who.name(text)
		}
		return text
	}, nil
}

func describeTable(c *common, name string) error {
	for _, d := range schemas.Tables() {
		if d.Name != name {
			continue
		}
		columns, err := table.Describe(d)
		if err != nil {
			return err
		}
		fmt.Fprintf(c.stdout, "%s\n\n", strings.Join(wrap(d.Name+": "+d.About, c.width, "", "  "), "\n"))
		for _, column := range columns {
			kind := string(column.Type)
			if column.Unit != "" {
				kind += ", " + column.Unit
			}
			if column.Nullable {
				kind += ", can be missing"
			}
			fmt.Fprintf(c.stdout, "%s (%s)\n%s\n", column.Name, kind, strings.Join(wrap(column.About, c.width, "    ", "    "), "\n"))
		}
	}
	return nil
}
