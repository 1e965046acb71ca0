package localpage

import (
	"cmp"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// The study's own files.
const (
	studyFile  = "study.yaml"
	rosterFile = "roster.csv"
	assignFile = "assign.csv"
)

// rosterFields are the roster's columns that the page asks for; others that
// are in the file stay as they are.
func rosterFields() []string {
	return []string{"aliases", "birth_year", "hr_rest", "hr_max", "rate_altering_medication", "consent"}
}

// change is a request that changes the study's own files: one at a time, none
// while a run reads them. do says what is wrong in words, "" when it is done.
func (s *Server) change(w http.ResponseWriter, r *http.Request, anchor string, do func() (string, error)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.job.active() {
		s.refuse(w, r, http.StatusConflict, "A check or a run is under way; wait for its end or stop it.")
		return
	}
	if err := r.ParseForm(); err != nil {
		s.refuse(w, r, http.StatusBadRequest, "The form came broken off; send it again.")
		return
	}
	wrong, err := do()
	switch {
	case err != nil:
		s.refuse(w, r, http.StatusInternalServerError, err.Error())
	case wrong != "":
		s.refuse(w, r, http.StatusUnprocessableEntity, wrong)
	default:
		s.job.forget()
		http.Redirect(w, r, "/#"+anchor, http.StatusSeeOther)
	}
}

// setUp writes study file, roster, assign file and key as init does, with what
// the form says of the inputs.
func (s *Server) setUp(w http.ResponseWriter, r *http.Request) {
	s.change(w, r, "swimmers", func() (string, error) {
		p, err := run.Propose(s.folder)
		if err != nil {
			return "", err
		}
		zone := strings.TrimSpace(r.PostForm.Get("timezone"))
		if _, err := time.LoadLocation(zone); err != nil || zone == "" || zone == "Local" {
			return fmt.Sprintf("%q is no time zone; write one such as Europe/Lisbon.", zone), nil
		}
		for i := range p.Patterns {
			if wrong := complete(&p.Patterns[i], p.Blanks, r); wrong != "" {
				return wrong, nil
			}
		}
		if _, err := p.Write(s.folder, zone); err != nil {
			return err.Error(), nil
		}
		return "", nil
	})
}

// complete fills in what the form says of one input.
func complete(in *study.Input, blanks map[string]run.Blank, r *http.Request) string {
	field := func(name string) string { return r.PostForm.Get(name + " " + in.Pattern) }
	if basis := study.CountBasis(field("stroke_count")); slices.Contains([]study.CountBasis{study.Arms, study.Cycles, study.UnknownBasis}, basis) {
		in.StrokeCount = basis
	}
	if pool := strings.TrimSpace(field("pool")); pool != "" {
		metres, err := study.ParsePool(pool)
		if err != nil {
			return fmt.Sprintf("The pool of %s: %v.", in.Pattern, err)
		}
		in.PoolM = metres
	}
	if source := field("hr_source"); slices.Contains([]string{"strap", "optical", "palpated"}, source) {
		in.HRSource = source
	}
	if order := study.DateOrder(field("dates")); order == study.DayFirst || order == study.MonthFirst {
		in.Dates = order
	}
	blank, ok := blanks[in.Pattern]
	if !ok {
		return ""
	}
	in.Columns = map[string]string{}
	blank.Missing = slices.DeleteFunc(slices.Clone(blank.Missing), func(missing string) bool {
		header := field("column " + missing)
		if header != "" {
			in.Columns[missing] = header
		}
		return header == "" // nobody's: a blank in the file would be an error
	})
	blanks[in.Pattern] = blank
	return ""
}

// newInputs are the proposed inputs that the study file does not have.
func newInputs(p *run.Proposal, file *study.Study) []study.Input {
	var out []study.Input
	for _, in := range p.Patterns {
		if !slices.ContainsFunc(file.Inputs, func(have study.Input) bool { return have.Pattern == in.Pattern }) {
			out = append(out, in)
		}
	}
	return out
}

var inputsLine = regexp.MustCompile(`(?m)^inputs:[ \t]*(#.*)?\r?\n([ \t]*)-`)

// addInputs adds the inputs that are proposed for files which none claims.
func (s *Server) addInputs(w http.ResponseWriter, r *http.Request) {
	s.change(w, r, "study", func() (string, error) {
		text, err := os.ReadFile(filepath.Join(s.folder, studyFile))
		if err != nil {
			return "", err
		}
		file, err := s.program.Load(filepath.Join(s.folder, studyFile))
		if err != nil {
			return err.Error(), nil
		}
		p, err := run.Propose(s.folder)
		if err != nil {
			return "", err
		}
		lines := ""
		at := inputsLine.FindSubmatchIndex(text)
		if at == nil {
			return "The study file's inputs are not a list of lines that begin with a dash; add the input there by hand.", nil
		}
		indent := string(text[at[4]:at[5]])
		for _, in := range newInputs(p, file) {
			lines += indent + "- " + run.InputLine(in, run.Blank{}) + "\n"
		}
		// Before the inputs that are there: the more special ones, which name a
		// swimmer or a folder, claim their files first.
		return s.replaceStudy(string(text[:at[4]]) + lines + string(text[at[4]:]))
	})
}

// studyFile replaces the study file by the text of the form, if it is one that
// a run would take.
func (s *Server) studyFile(w http.ResponseWriter, r *http.Request) {
	s.change(w, r, "study", func() (string, error) {
		return s.replaceStudy(strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n"))
	})
}

// replaceStudy puts a text in place of the study file, after it was read as
// one. The old file is kept beside it.
func (s *Server) replaceStudy(text string) (string, error) {
	probe, err := os.CreateTemp(s.folder, ".study-*.yaml")
	if err != nil {
		return "", err
	}
	defer os.Remove(probe.Name())
	_, err = probe.WriteString(text)
	if closed := probe.Close(); err != nil || closed != nil {
		return "", cmp.Or(err, closed)
	}
	if _, err := s.program.Load(probe.Name()); err != nil {
		return "The study file was left as it is. " + strings.ReplaceAll(err.Error(), filepath.Base(probe.Name()), studyFile), nil
	}
	target := filepath.Join(s.folder, studyFile)
	old, err := os.ReadFile(target)
	if err != nil {
		return "", err
	}
	if err := replaceFile(target+".before", old); err != nil {
		return "", err
	}
	return "", replaceFile(target, []byte(text))
}

// owners writes the roster and the assign file as the form has them.
func (s *Server) owners(w http.ResponseWriter, r *http.Request) {
	s.change(w, r, "swimmers", func() (string, error) {
		file, err := s.program.Load(filepath.Join(s.folder, studyFile))
		if err != nil {
			return err.Error(), nil
		}
		if wrong, err := s.saveRoster(r, cmp.Or(file.Roster, rosterFile)); wrong != "" || err != nil {
			return wrong, err
		}
		assigned, err := s.saveAssignments(r, cmp.Or(file.Assign, assignFile))
		if err != nil {
			return "", err
		}
		return s.nameLists(file, assigned)
	})
}

func (s *Server) saveRoster(r *http.Request, name string) (wrong string, err error) {
	target := s.inFolder(name)
	roster, err := readList(target, "swimmer")
	if err != nil {
		return err.Error(), nil
	}
	if roster.column("swimmer") < 0 {
		return name + " has no column swimmer; mend it in an editor.", nil
	}
	for i := range r.PostForm["swimmer"] {
		who := identity.Tidy(r.PostForm["swimmer"][i])
		if who == "" {
			continue
		}
		row := roster.row("swimmer", who)
		if row < 0 {
			row = roster.add()
			roster.set(row, "swimmer", who)
		}
		for _, field := range rosterFields() {
			if i < len(r.PostForm[field]) { // a form lists each field once a swimmer
				roster.set(row, field, strings.TrimSpace(r.PostForm[field][i]))
			}
		}
	}
	if roster.column("consent") < 0 {
		roster.header = append(roster.header, "consent")
	}
	data, err := roster.bytes()
	if err != nil {
		return "", err
	}
	return "", replaceFile(target, data)
}

// saveAssignments writes whose the files are that no path says it of, and
// reports whether there are any.
func (s *Server) saveAssignments(r *http.Request, name string) (any bool, err error) {
	files, whose := r.PostForm["file"], r.PostForm["owner"]
	if len(files) == 0 || len(files) != len(whose) {
		return false, nil
	}
	target := s.inFolder(name)
	list, err := readList(target, "file", "swimmer")
	if err != nil {
		return false, err
	}
	for i, file := range files {
		row := list.row("file", file)
		if row < 0 {
			if whose[i] == "" {
				continue
			}
			row = list.add()
			list.set(row, "file", file)
		}
		list.set(row, "swimmer", whose[i])
	}
	if len(list.rows) == 0 {
		return false, nil
	}
	data, err := list.bytes()
	if err != nil {
		return false, err
	}
	return true, replaceFile(target, data)
}

// nameLists makes the study file name the lists that were written.
func (s *Server) nameLists(file *study.Study, assigned bool) (string, error) {
	add := ""
	if file.Roster == "" {
		add += "roster: " + rosterFile + "\n"
	}
	if assigned && file.Assign == "" {
		add += "assign: " + assignFile + "\n"
	}
	if add == "" {
		return "", nil
	}
	text, err := os.ReadFile(filepath.Join(s.folder, studyFile))
	if err != nil {
		return "", err
	}
	return s.replaceStudy(strings.TrimRight(string(text), "\n") + "\n" + add)
}

func (s *Server) inFolder(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(s.folder, filepath.FromSlash(name))
}
