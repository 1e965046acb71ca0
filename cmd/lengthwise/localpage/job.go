package localpage

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"sync"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// task is what a job does.
type task string

const (
	checking task = "check"
	running  task = "run"
)

// job is the one check or run that may be under way, or the last one.
type job struct {
	mu      sync.Mutex
	task    task // "" before the first
	cancel  context.CancelFunc
	done    chan struct{} // closed when it has ended; nil before the first
	phase   run.Phase
	at, of  int
	failure string
	checked *Checked
	ran     *Ran
}

// state is what the page is told of the job.
type state struct {
	Task    task      `json:"task"`
	Active  bool      `json:"active"`
	Phase   run.Phase `json:"phase"`
	Done    int       `json:"done"`
	Total   int       `json:"total"`
	Failure string    `json:"failure"`
	checked *Checked
	ran     *Ran
}

func (j *job) state() state {
	j.mu.Lock()
	defer j.mu.Unlock()
	return state{Task: j.task, Active: j.underway(), Phase: j.phase, Done: j.at, Total: j.of, Failure: j.failure, checked: j.checked, ran: j.ran}
}

func (j *job) underway() bool {
	if j.done == nil {
		return false
	}
	select {
	case <-j.done:
		return false
	default:
		return true
	}
}

func (j *job) active() bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.underway()
}

// forget drops what was found: the files have changed.
func (j *job) forget() {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.task, j.checked, j.ran, j.failure = "", nil, nil, ""
}

func (j *job) stop() {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.cancel != nil {
		j.cancel()
	}
}

func (j *job) wait() {
	j.mu.Lock()
	done := j.done
	j.mu.Unlock()
	if done != nil {
		<-done
	}
}

// start begins a job; false when one is under way.
func (j *job) start(ctx context.Context, t task, work func(ctx context.Context, progress Progress) (*Checked, *Ran, error)) bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.underway() {
		return false
	}
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	j.task, j.cancel, j.done = t, cancel, done
	j.phase, j.at, j.of, j.failure, j.checked, j.ran = "", 0, 0, "", nil, nil
	go func() {
		defer close(done)
		defer cancel()
		checked, ran, err := work(ctx, func(phase run.Phase, at, of int) {
			j.mu.Lock()
			defer j.mu.Unlock()
			j.phase, j.at, j.of = phase, at, of
		})
		j.mu.Lock()
		defer j.mu.Unlock()
		j.checked, j.ran = checked, ran
		switch {
		case errors.Is(err, context.Canceled):
			j.failure = "Stopped. No result was changed."
		case err != nil:
			j.failure = err.Error()
		}
	}()
	return true
}

// begin starts a check or a run and sends the browser back to the page.
func (s *Server) begin(ctx context.Context, w http.ResponseWriter, r *http.Request, t task) {
	s.mu.Lock()
	defer s.mu.Unlock()
	file, err := s.program.Load(filepath.Join(s.folder, studyFile))
	if err != nil {
		s.refuse(w, r, http.StatusConflict, fmt.Sprintf("The study file cannot be used yet: %v", err))
		return
	}
	started := s.job.start(ctx, t, func(ctx context.Context, progress Progress) (*Checked, *Ran, error) {
		return s.work(ctx, t, file, progress)
	})
	if !started {
		s.refuse(w, r, http.StatusConflict, "A check or a run is under way already.")
		return
	}
	http.Redirect(w, r, "/#job", http.StatusSeeOther)
}

func (s *Server) work(ctx context.Context, t task, file *study.Study, progress Progress) (*Checked, *Ran, error) {
	if t == checking {
		checked, err := s.program.Check(ctx, file, progress)
		return checked, nil, err
	}
	ran, err := s.program.Run(ctx, file, progress)
	return nil, ran, err
}

func (s *Server) stopJob(w http.ResponseWriter, r *http.Request) {
	s.job.stop()
	s.job.wait()
	http.Redirect(w, r, "/#job", http.StatusSeeOther)
}

func (s *Server) progress(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(s.job.state()) // the browser has gone when this fails
}
