package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"io/fs"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"lengthwise/cmd/lengthwise/localpage"
	"lengthwise/datasets"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// visitor is a browser without scripts.
type visitor struct {
	t       *testing.T
	client  *http.Client
	address string // without the token
}

// openFolder serves a folder's page and visits it.
func openFolder(t *testing.T, folder string) *visitor {
	t.Helper()
	c := &common{outside: outside{stdout: io.Discard, stderr: io.Discard, folder: folder}}
	server, err := localpage.New(folder, c.program(study.Runtime{Workers: 2}))
	if err != nil {
		t.Fatal(err)
	}
	listener, err := localpage.Listen(0)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(ctx, listener) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("the server ended with %v", err)
		}
	})
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	address := server.Address(listener)
	v := &visitor{t: t, client: &http.Client{Jar: jar}, address: address[:strings.Index(address, "/?")]}
	if page := v.do("GET", strings.TrimPrefix(address, v.address), nil, ""); !strings.Contains(page, "What does a stroke cost?") {
		t.Fatalf("the first visit shows\n%s", page)
	}
	return v
}

func (v *visitor) do(method, path string, body io.Reader, kind string) string {
	v.t.Helper()
	request, err := http.NewRequest(method, v.address+path, body)
	if err != nil {
		v.t.Fatal(err)
	}
	request.Header.Set("Origin", v.address)
	if kind != "" {
		request.Header.Set("Content-Type", kind)
	}
	response, err := v.client.Do(request)
	if err != nil {
		v.t.Fatal(err)
	}
	defer response.Body.Close()
	data, err := io.ReadAll(response.Body)
	if err != nil || response.StatusCode != http.StatusOK {
		v.t.Fatalf("%s %s: %s (%v)\n%s", method, path, response.Status, err, data)
	}
	return string(data)
}

func (v *visitor) send(path string, form url.Values) string {
	v.t.Helper()
	return v.do("POST", path, strings.NewReader(form.Encode()), "application/x-www-form-urlencoded")
}

// await waits for the end of a job and gives the page then.
func (v *visitor) await() string {
	v.t.Helper()
	for range 600 {
		var job struct{ Active bool }
		if err := json.Unmarshal([]byte(v.do("GET", "/progress", nil, "")), &job); err != nil {
			v.t.Fatal(err)
		}
		if !job.Active {
			return v.do("GET", "/", nil, "")
		}
		time.Sleep(100 * time.Millisecond)
	}
	v.t.Fatal("the job does not end")
	return ""
}

// dropped reports whether a file of the demo is among those that are dropped: the
// sheets and the folders of a few swimmers.
func dropped(rel string) bool {
	folder, rest, below := strings.Cut(rel, "/")
	if !below || folder != "inbox" {
		return below && folder == "sheets"
	}
	owner, _, below := strings.Cut(rest, "/")
	return below && owner < "h"
}

// TestOpenFromADropToASwimmersPage takes some of the demo's recordings, without
// its study file, roster and notes, by the local page alone to the pages of a
// result, and compares the result with that of the commands on the same files.
func TestOpenFromADropToASwimmersPage(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the demo study twice")
	}
	demo := t.TempDir()
	if err := datasets.WriteDemo(demo); err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(t.TempDir(), "mine")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	v := openFolder(t, folder)
	files := 0
	err := filepath.WalkDir(demo, func(path string, entry fs.DirEntry, err error) error {
		rel, _ := filepath.Rel(demo, path)
		if err != nil || !entry.Type().IsRegular() || !dropped(filepath.ToSlash(rel)) {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		var got localpage.Received
		answer := v.do("PUT", "/file?path="+url.QueryEscape(filepath.ToSlash(rel)), bytes.NewReader(data), "")
		if err := json.Unmarshal([]byte(answer), &got); err != nil || !got.Taken {
			t.Errorf("%s: %s", rel, answer)
		}
		files++
		return nil
	})
	if err != nil || files < 50 {
		t.Fatalf("%d files dropped: %v", files, err)
	}
	page := v.do("GET", "/", nil, "")
	if !strings.Contains(page, "What a study of these files needs to know") {
		t.Fatalf("no proposal:\n%s", page)
	}
	form := url.Values{"timezone": {"Europe/Lisbon"}}
	for _, name := range regexp.MustCompile(`name="(pool [^"]+)"`).FindAllStringSubmatch(page, -1) {
		form.Set(name[1], "25m")
	}
	form.Set("column time sheets/old-form/*.csv", "Split")
	form.Set("column strokes sheets/old-form/*.csv", "SC")
	page = v.send("/setup", form)
	names := regexp.MustCompile(`type="hidden" name="swimmer" value="([^"]+)"`).FindAllStringSubmatch(page, -1)
	if len(names) < 8 {
		t.Fatalf("%d swimmers in the form:\n%s", len(names), page)
	}
	form = url.Values{}
	for _, name := range names {
		form.Add("swimmer", name[1])
		form.Add("consent", "yes")
		for _, field := range []string{"aliases", "birth_year", "hr_rest", "hr_max"} {
			form.Add(field, "")
		}
		form.Add("rate_altering_medication", "no")
	}
	v.send("/owners", form)
	v.send("/check", nil)
	if page = v.await(); !strings.Contains(page, "the question can be answered for") {
		t.Errorf("the check says\n%s", page)
	}
	v.send("/run", nil)
	if page = v.await(); !strings.Contains(page, `href="/pages/"`) {
		t.Fatalf("the run says\n%s", page)
	}
	squad := v.do("GET", "/pages/", nil, "")
	link := regexp.MustCompile(`href="(swimmers/[^"]+\.html)"`).FindStringSubmatch(squad)
	if link == nil || !strings.Contains(v.do("GET", "/pages/"+link[1], nil, ""), "<h1") {
		t.Errorf("no swimmer's page: %v", link)
	}

	// No second way: the commands give the same result from the same files.
	record, err := run.ReadRecord(filepath.Join(folder, "out"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := study.Load(filepath.Join(folder, "study.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	checked, err := run.Verify(context.Background(), s, run.Options{Workers: 2})
	if err != nil || len(checked.Departures) != 0 || !checked.Recomputed {
		t.Errorf("run again: %+v, %v", checked, err)
	}
	if len(record.Inputs) == 0 {
		t.Error("the result has no inputs on record")
	}
}

// TestOpenKeepsTheStudyFileWhole: what a run would not take does not replace
// what it takes.
func TestOpenKeepsTheStudyFileWhole(t *testing.T) {
	folder := t.TempDir()
	const text = "study: kept\ninputs:\n  - {path: \"sheets/*.csv\", kind: sheet}\n"
	if err := os.WriteFile(filepath.Join(folder, "study.yaml"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	v := openFolder(t, folder)
	refused, err := v.client.Do(mustRequest(t, v.address, url.Values{"text": {"study: kept\ninptus: []\n"}}))
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(refused.Body)
	refused.Body.Close()
	if refused.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(string(body), "inptus") || strings.Contains(string(body), ".study-") {
		t.Errorf("a bad study file: %s\n%s", refused.Status, body)
	}
	if now, _ := os.ReadFile(filepath.Join(folder, "study.yaml")); string(now) != text {
		t.Errorf("the study file is now\n%s", now)
	}
	better := strings.Replace(text, "kept", "better", 1)
	v.send("/study", url.Values{"text": {better}})
	if now, _ := os.ReadFile(filepath.Join(folder, "study.yaml")); string(now) != better {
		t.Errorf("the study file is now\n%s", now)
	}
	if before, _ := os.ReadFile(filepath.Join(folder, "study.yaml.before")); string(before) != text {
		t.Errorf("the old study file is\n%s", before)
	}
	left, _ := filepath.Glob(filepath.Join(folder, ".study-*"))
	if len(left) != 0 {
		t.Errorf("left over: %v", left)
	}
	// Files that no input claims are offered, and added before the others.
	v.do("PUT", "/file?path="+url.QueryEscape("Ana/monday.csv"), strings.NewReader("swimmer,date,pool,stroke,length,time,strokes\nAna,2026-03-02,25m,freestyle,1,20.1,18\n"), "")
	if page := v.do("GET", "/", nil, ""); !strings.Contains(page, "Add them to the study file") {
		t.Errorf("the new file is not offered:\n%s", page)
	}
	v.send("/inputs", nil)
	s, err := study.Load(filepath.Join(folder, "study.yaml"))
	if err != nil || len(s.Inputs) != 2 || s.Inputs[0].Pattern != "Ana/*.csv" {
		t.Errorf("inputs %+v (%v)", s, err)
	}
}

func mustRequest(t *testing.T, address string, form url.Values) *http.Request {
	t.Helper()
	request, err := http.NewRequest("POST", address+"/study", strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Origin", address)
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return request
}
