package localpage

import (
	"context"
	"crypto/rand"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net"
	"net/http"
	"path/filepath"
	"sync"
	"time"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

//go:embed assets
var assets embed.FS

// Program is what the page calls of the program: the commands, in words.
type Program struct {
	// Load reads a study file.
	Load func(path string) (*study.Study, error)
	// Check is what check says.
	Check func(ctx context.Context, s *study.Study, progress Progress) (*Checked, error)
	// Run is what run does.
	Run func(ctx context.Context, s *study.Study, progress Progress) (*Ran, error)
	// Pack is the zip that evidence makes of the study's result.
	Pack func(s *study.Study) ([]byte, error)
}

// Progress is told how far a run is.
type Progress func(phase run.Phase, done, total int)

// Checked is what check found, in words; it names files and swimmers.
type Checked struct {
	Answerable bool
	Answer     string   // for how many swimmers the question can be answered
	Account    []string // what was read, used and left out
	Needs      []string // what a person has to see to, the most pressing first
	Files      []string // file by file what was left out; indented lines
	Swimmers   []SwimmerWords
	Gaps       []string // what would make the study better
}

// SwimmerWords is what can be answered for one swimmer.
type SwimmerWords struct {
	Name  string
	Lines []string
}

// Ran is what run found, in words.
type Ran struct {
	Answer  string   // the squad's answer
	Account []string // what was read, used and left out
}

// Server serves one study's folder.
type Server struct {
	folder  string
	program Program
	token   string
	page    *template.Template
	quit    chan struct{} // closed when the page asks for the end

	mu  sync.Mutex // holds the folder's files together: one change at a time
	job job
}

// New makes a server of the study in folder, which must exist.
func New(folder string, program Program) (*Server, error) {
	secret := make([]byte, 16)
	if _, err := rand.Read(secret); err != nil {
		return nil, fmt.Errorf("a token for the local page: %w", err)
	}
	page, err := template.New("page.html").ParseFS(assets, "assets/page.html")
	if err != nil {
		return nil, fmt.Errorf("the local page: %w", err)
	}
	return &Server{folder: folder, program: program, token: hex.EncodeToString(secret), page: page, quit: make(chan struct{})}, nil
}

// Listen opens a port on the loopback interface; 0 lets the system choose one.
func Listen(port int) (net.Listener, error) {
	l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", port))
	if err != nil {
		return nil, fmt.Errorf("the local page: %w; --port names another port, 0 takes any that is free", err)
	}
	return l, nil
}

// Address is where a browser finds the page; it holds the token.
func (s *Server) Address(l net.Listener) string {
	return fmt.Sprintf("http://%s/?token=%s", l.Addr(), s.token)
}

// Serve answers until ctx ends or the page asks for the end. A run that is
// under way is stopped; its study keeps the old result.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	server := &http.Server{
		Handler:           s.Handler(ctx, l.Addr().String()),
		ReadHeaderTimeout: 10 * time.Second,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(l) }()
	var err error
	select {
	case err = <-failed:
	case <-s.quit:
	case <-ctx.Done():
	}
	s.job.stop()
	last, done := context.WithTimeout(context.Background(), 3*time.Second)
	defer done()
	if shut := server.Shutdown(last); shut != nil && err == nil {
		err = server.Close()
	}
	s.job.wait()
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	return err
}

// Handler is the page's whole surface, for the host (address and port) that it
// is served under. Jobs end with ctx.
func (s *Server) Handler(ctx context.Context, host string) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.home)
	mux.HandleFunc("GET /progress", s.progress)
	mux.Handle("GET /assets/", http.FileServerFS(onlyFiles{assets}))
	mux.HandleFunc("GET /pages/", s.result)
	mux.HandleFunc("PUT /file", s.putFile)
	mux.HandleFunc("POST /files", s.postFiles)
	mux.HandleFunc("POST /setup", s.setUp)
	mux.HandleFunc("POST /inputs", s.addInputs)
	mux.HandleFunc("POST /owners", s.owners)
	mux.HandleFunc("POST /study", s.studyFile)
	mux.HandleFunc("POST /check", func(w http.ResponseWriter, r *http.Request) { s.begin(ctx, w, r, checking) })
	mux.HandleFunc("POST /run", func(w http.ResponseWriter, r *http.Request) { s.begin(ctx, w, r, running) })
	mux.HandleFunc("POST /stop", s.stopJob)
	mux.HandleFunc("POST /evidence", s.evidence)
	mux.HandleFunc("POST /quit", s.end)
	return guard{token: s.token, host: host, next: mux}
}

// evidence gives the pack for a workshop to be saved.
func (s *Server) evidence(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.job.active() {
		s.refuse(w, r, http.StatusConflict, "A check or a run is under way; the pack is made of its result when it has ended.")
		return
	}
	file, err := s.program.Load(filepath.Join(s.folder, studyFile))
	if err != nil {
		s.refuse(w, r, http.StatusConflict, fmt.Sprintf("The study file cannot be used: %v", err))
		return
	}
	pack, err := s.program.Pack(file)
	if err != nil {
		s.refuse(w, r, http.StatusConflict, fmt.Sprintf("There is no evidence pack: %v", err))
		return
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="evidence.zip"`)
	w.Write(pack) // the browser has gone when this fails
}

// onlyFiles has no listings of folders.
type onlyFiles struct{ fs.FS }

func (f onlyFiles) Open(name string) (fs.File, error) {
	file, err := f.FS.Open(name)
	if err != nil {
		return nil, err
	}
	if info, err := file.Stat(); err != nil || info.IsDir() {
		file.Close()
		return nil, fs.ErrNotExist
	}
	return file, nil
}

// end closes the program, unless a run is under way.
func (s *Server) end(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.job.active() {
		s.refuse(w, r, http.StatusConflict, "A run is under way; stop it first.")
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	// Nobody is there any more to answer for an icon.
	fmt.Fprintln(w, `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>lengthwise has ended</title><link rel="icon" href="data:,"></head><body><main><h1>lengthwise has ended</h1><p>This window can be closed.</p></main></body></html>`)
	select {
	case <-s.quit:
	default:
		close(s.quit)
	}
}
