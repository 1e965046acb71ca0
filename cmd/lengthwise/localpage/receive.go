package localpage

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"lengthwise/pipeline/study"
)

// largestFile bounds one dropped file; readers take no larger input.
const largestFile = 1 << 30

// Where dropped files go that came without a folder of their own.
const (
	recordings = "inbox"
	sheets     = "sheets"
)

// Received says what became of one dropped file.
type Received struct {
	Path  string `json:"path"` // within the folder
	Words string `json:"words"`
	Taken bool   `json:"taken"` // it is in the folder now, or was already
}

// notTaken is why a file was not put into the folder, in words for its owner.
type notTaken string

func (n notTaken) Error() string { return string(n) }

// placeFor says where in the folder a dropped file goes: where its own folders
// say, else by what it is. The study's own lists go to the top.
func placeFor(name string) (string, error) {
	name = path.Clean(strings.ReplaceAll(name, `\`, "/"))
	parts := strings.Split(name, "/")
	for _, part := range parts {
		if part == "" || part[0] == '.' || strings.ContainsFunc(part, func(r rune) bool { return r < ' ' || strings.ContainsRune(`<>:"|?*`, r) }) {
			return "", notTaken("its name cannot be the name of a file here")
		}
	}
	if !filepath.IsLocal(filepath.FromSlash(name)) {
		return "", notTaken("its name leads out of the folder")
	}
	if strings.EqualFold(parts[0], study.PrivateFolder) || strings.EqualFold(parts[0], "out") { // some file systems know no case
		return "", notTaken("its folder is one that results are written into")
	}
	plain := strings.TrimSuffix(strings.ToLower(name), ".gz")
	switch ext := path.Ext(plain); {
	case ext == ".fit" || ext == ".zip":
		if len(parts) == 1 {
			return path.Join(recordings, name), nil
		}
	case slices.Contains([]string{".csv", ".tsv", ".txt"}, ext):
		if len(parts) == 1 && !slices.Contains([]string{"roster.csv", "assign.csv", "notes.csv"}, strings.ToLower(name)) {
			return path.Join(sheets, name), nil
		}
	default:
		return "", notTaken("it is no activity file (.fit), archive (.zip), or sheet saved as CSV")
	}
	return name, nil
}

// receive puts one file into the folder, whole or not at all. A file that is
// there already is never changed.
func (s *Server) receive(name string, from io.Reader) (Received, error) {
	place, err := placeFor(name)
	if err != nil {
		return said(name, err)
	}
	target := filepath.Join(s.folder, filepath.FromSlash(place))
	if err := os.MkdirAll(filepath.Dir(target), 0o755); err != nil {
		return Received{}, err
	}
	temporary, err := os.CreateTemp(filepath.Dir(target), ".dropped-*")
	if err != nil {
		return Received{}, err
	}
	defer os.Remove(temporary.Name()) // after a rename there is nothing to remove
	n, err := io.Copy(temporary, io.LimitReader(from, largestFile+1))
	if err == nil && n <= largestFile {
		err = temporary.Sync()
	}
	if err = errors.Join(err, temporary.Close()); err != nil {
		return Received{}, fmt.Errorf("%s: %w", place, err)
	}
	if n > largestFile {
		return said(place, notTaken(fmt.Sprintf("it is larger than %d MB", largestFile>>20)))
	}
	// A link, unlike a rename, does not replace what is there.
	err = os.Link(temporary.Name(), target)
	if err != nil && !errors.Is(err, fs.ErrExist) { // a file system without links
		if _, there := os.Lstat(target); errors.Is(there, fs.ErrNotExist) {
			err = os.Rename(temporary.Name(), target)
		}
	}
	switch {
	case err == nil:
		return Received{Path: place, Words: "taken", Taken: true}, os.Chmod(target, 0o644)
	case errors.Is(err, fs.ErrExist):
		if sameFile(temporary.Name(), target) {
			return Received{Path: place, Words: "was there already", Taken: true}, nil
		}
		return said(place, notTaken("another file of that name is there; rename one of them"))
	}
	return Received{}, fmt.Errorf("%s: %w", place, err)
}

// said turns what its owner can mend into words; other errors stay errors.
func said(name string, err error) (Received, error) {
	var why notTaken
	if errors.As(err, &why) {
		return Received{Path: name, Words: "not taken: " + string(why)}, nil
	}
	return Received{}, err
}

// sameFile reports whether two files hold the same bytes.
func sameFile(a, b string) bool {
	x, err := os.Open(a)
	if err != nil {
		return false
	}
	defer x.Close()
	y, err := os.Open(b)
	if err != nil {
		return false
	}
	defer y.Close()
	const block = 1 << 16
	p, q := make([]byte, block), make([]byte, block)
	for {
		n, errX := io.ReadFull(x, p)
		m, errY := io.ReadFull(y, q)
		if n != m || !bytes.Equal(p[:n], q[:m]) {
			return false
		}
		if errX != nil || errY != nil {
			return errX != nil && errY != nil
		}
	}
}

// putFile takes one file from the page's script: its path in the query, its
// bytes as the body.
func (s *Server) putFile(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.job.active() {
		http.Error(w, "A check or a run is under way; wait for its end or stop it.", http.StatusConflict)
		return
	}
	received, err := s.receive(r.URL.Query().Get("path"), r.Body)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	s.job.forget()
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(received) // the browser has gone when this fails
}

// postFiles takes files from a form, for browsers without scripts.
func (s *Server) postFiles(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.job.active() {
		s.refuse(w, r, http.StatusConflict, "A check or a run is under way; wait for its end or stop it.")
		return
	}
	parts, err := r.MultipartReader()
	if err != nil {
		s.refuse(w, r, http.StatusBadRequest, "No files came with the form.")
		return
	}
	var lines []string
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			s.refuse(w, r, http.StatusBadRequest, "The files came broken off; send them again.")
			return
		}
		_, fields, err := mime.ParseMediaType(part.Header.Get("Content-Disposition"))
		if err != nil || fields["filename"] == "" {
			continue
		}
		received, err := s.receive(fields["filename"], part)
		if err != nil {
			s.refuse(w, r, http.StatusInternalServerError, err.Error())
			return
		}
		lines = append(lines, received.Path+": "+received.Words)
	}
	s.job.forget()
	s.show(w, r, http.StatusOK, "", lines)
}
