package localpage

import (
	"bytes"
	"cmp"
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// mostShown is how many files a form lists; with more, folders by swimmer are
// the better way.
const mostShown = 200

// view is all that the page shows.
type view struct {
	Folder  string
	Message string   // what was refused, or ""
	Dropped []string // what became of dropped files

	Found    *run.Proposal
	Few      bool        // nothing to read is in the folder yet
	Inputs   []inputForm // when there is no study file yet
	Zones    []string
	Zone     string
	HasStudy bool
	Text     string // of the study file
	Broken   string // what is wrong in it
	Missing  []string
	Roster   string
	Swimmers []swimmerForm
	Files    []fileForm
	More     int // files beyond those shown

	Job      state
	Checked  *Checked
	Ran      *Ran
	Pages    bool // there are pages to read
	ByName   bool // they carry names
	Made     string
	Cautions []string
}

type inputForm struct {
	study.Input
	Blank run.Blank
	Kind  string // in words
}

type swimmerForm struct {
	Name   string
	New    bool // found in files, not in the roster
	Values map[string]string
}

type fileForm struct {
	Path, Owner string
	Names       []string
}

// home shows the page.
func (s *Server) home(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.show(w, r, http.StatusOK, "", nil)
}

// refuse shows the page with what is wrong.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, status int, words string) {
	s.show(w, r, status, words, nil)
}

func (s *Server) show(w http.ResponseWriter, _ *http.Request, status int, message string, dropped []string) {
	v := &view{Folder: s.folder, Message: message, Dropped: dropped, Cautions: findings.Cautions()}
	if err := s.fill(v); err != nil {
		v.Message = strings.TrimSpace(v.Message + " " + err.Error())
		status = max(status, http.StatusInternalServerError)
	}
	var b bytes.Buffer
	if err := s.page.Execute(&b, v); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(b.Bytes()) // the browser has gone when this fails
}

// fill reads from disk how far the study is. Nothing is kept between requests
// but the job.
func (s *Server) fill(v *view) error {
	v.Job = s.job.state()
	v.Checked, v.Ran = v.Job.checked, v.Job.ran
	s.readPages(v)
	if v.Job.Active { // the files are busy, and nothing may change
		v.HasStudy = true
		return nil
	}
	p, err := run.Propose(s.folder)
	if err != nil {
		return err
	}
	p.Foreign = slices.DeleteFunc(p.Foreign, func(rel string) bool { // the study's own, and its work
		return strings.HasPrefix(rel, "study.") || strings.HasPrefix(rel, "out/")
	})
	v.Found = p
	v.Few = len(p.Activities)+len(p.Archives)+len(p.Sheets)+len(p.Logs) == 0
	text, err := os.ReadFile(filepath.Join(s.folder, studyFile))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		s.propose(v, p)
		return nil
	case err != nil:
		return err
	}
	v.HasStudy, v.Text = true, string(text)
	file, err := s.program.Load(filepath.Join(s.folder, studyFile))
	if err != nil {
		v.Broken = err.Error()
		return nil
	}
	for _, in := range newInputs(p, file) {
		if s.unclaimed(file) {
			v.Missing = append(v.Missing, in.Pattern)
		}
	}
	return s.lists(v, p, file)
}

// unclaimed reports whether the folder holds files that no input of the study
// claims.
func (s *Server) unclaimed(file *study.Study) bool {
	files, err := file.Find()
	if err != nil {
		return false
	}
	defer files.Close()
	return slices.ContainsFunc(files.Unmatched, func(u study.Unmatched) bool {
		plain := strings.TrimSuffix(strings.ToLower(u.Rel), ".gz")
		return slices.Contains([]string{".fit", ".zip", ".csv", ".tsv", ".txt"}, filepath.Ext(plain))
	})
}

// propose fills the form of a study that has no study file yet.
func (s *Server) propose(v *view, p *run.Proposal) {
	words := map[study.InputKind]string{study.Activity: "watch files", study.Sheet: "lane sheets", study.HeartRate: "pulse readings"}
	for _, in := range p.Patterns {
		v.Inputs = append(v.Inputs, inputForm{in, p.Blanks[in.Pattern], words[in.Kind]})
	}
	v.Zones, v.Zone = p.Zones, "UTC"
	if len(p.Zones) > 0 {
		v.Zone = p.Zones[0]
	} else if local := time.Local.String(); local != "" && local != "Local" {
		v.Zone = local
	}
}

// lists fills the forms of roster and assign file.
func (s *Server) lists(v *view, p *run.Proposal, file *study.Study) error {
	v.Roster = cmp.Or(file.Roster, rosterFile)
	roster, err := readList(s.inFolder(v.Roster), "swimmer")
	if err != nil {
		v.Message = strings.TrimSpace(v.Message + " " + err.Error())
		return nil
	}
	known := map[string]bool{}
	var names []string
	for i := range roster.rows {
		name := identity.Tidy(roster.cell(i, "swimmer"))
		if name == "" {
			continue
		}
		form := swimmerForm{Name: name, Values: map[string]string{}}
		for _, field := range rosterFields() {
			form.Values[field] = roster.cell(i, field)
		}
		known[identity.Fold(name)] = true
		for _, alias := range strings.Split(form.Values["aliases"], ";") {
			known[identity.Fold(alias)] = true
		}
		v.Swimmers = append(v.Swimmers, form)
		names = append(names, name)
	}
	for _, name := range p.Swimmers {
		if !known[identity.Fold(name)] {
			v.Swimmers = append(v.Swimmers, swimmerForm{Name: identity.Tidy(name), New: true, Values: map[string]string{}})
			names = append(names, identity.Tidy(name))
		}
	}
	assigned, err := readList(s.inFolder(cmp.Or(file.Assign, assignFile)), "file", "swimmer")
	if err != nil {
		v.Message = strings.TrimSpace(v.Message + " " + err.Error())
		return nil
	}
	for _, path := range p.Unowned {
		if len(v.Files) == mostShown {
			v.More = len(p.Unowned) - mostShown
			break
		}
		form := fileForm{Path: path, Names: names}
		if row := assigned.row("file", path); row >= 0 {
			form.Owner = assigned.cell(row, "swimmer")
		}
		v.Files = append(v.Files, form)
	}
	return nil
}

// pagesAt is the folder of the pages to read, within the study's folder: those
// with names where there are any.
func (s *Server) pagesAt() (at string, byName bool) {
	file, err := s.program.Load(filepath.Join(s.folder, studyFile))
	if err != nil {
		return "", false
	}
	if _, err := os.Stat(filepath.Join(s.folder, study.PrivateFolder, "pages", "index.html")); err == nil && !file.Privacy.AsGiven {
		return filepath.Join(s.folder, study.PrivateFolder, "pages"), true
	}
	pages := filepath.Join(s.inFolder(file.Output), "pages")
	if _, err := os.Stat(filepath.Join(pages, "index.html")); err == nil {
		return pages, file.Privacy.AsGiven
	}
	return "", false
}

func (s *Server) readPages(v *view) {
	at, byName := s.pagesAt()
	if at == "" {
		return
	}
	v.Pages, v.ByName = true, byName
	if info, err := os.Stat(filepath.Join(at, "index.html")); err == nil {
		v.Made = info.ModTime().Format("2 January 2006, 15:04")
	}
}

// result serves the pages that the last run wrote. They say for themselves
// what they may load; here they are kept from sending anything anywhere.
func (s *Server) result(w http.ResponseWriter, r *http.Request) {
	at, _ := s.pagesAt()
	if at == "" {
		http.NotFound(w, r)
		return
	}
	root, err := os.OpenRoot(at) // no link and no path leads out of it
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	defer root.Close()
	w.Header().Set("Content-Security-Policy", "connect-src 'none'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'")
	http.StripPrefix("/pages/", http.FileServerFS(onlyPages{root.FS()})).ServeHTTP(w, r)
}

// onlyPages has no listings: a folder is its index.html or nothing.
type onlyPages struct{ fs.FS }

func (f onlyPages) Open(name string) (fs.File, error) {
	file, err := f.FS.Open(name)
	if err != nil {
		return nil, err
	}
	info, err := file.Stat()
	if err == nil && info.IsDir() {
		index, missing := f.FS.Open(strings.TrimPrefix(name+"/index.html", "./"))
		if missing != nil {
			file.Close()
			return nil, fs.ErrNotExist
		}
		index.Close()
	}
	return file, err
}
