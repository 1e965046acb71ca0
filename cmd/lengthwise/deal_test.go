package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The manifest is one of Kubernetes by its published schema, which kubernetes-validate
// (PyPI) carries.
func TestDealKubernetes(t *testing.T) {
	python := os.Getenv("LENGTHWISE_PYTHON")
	if python == "" {
		t.Skip("LENGTHWISE_PYTHON names no Python interpreter; set it to one that has kubernetes-validate")
	}
	folder := t.TempDir()
	validate := func(text string) (string, error) {
		path := filepath.Join(folder, "jobs.yaml")
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(python, "-m", "kubernetes_validate", "--strict", path).CombinedOutput()
		return string(out), err
	}
	text := said(t, "deal", "kubernetes", "--shards", "12", "--study", filepath.Join(folder, "study.yaml"))
	if out, err := validate(text); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	if n := strings.Count(text, "kind: Job"); n != 4 {
		t.Errorf("%d jobs", n)
	}
	if out, err := validate(strings.Replace(text, "completions: 12", "completions: many", 1)); err == nil {
		t.Errorf("a number of pods that is none was found valid: the test shows nothing\n%s", out)
	}
}

// said is what a command prints.
func said(t *testing.T, args ...string) string {
	t.Helper()
	var out strings.Builder
	if code := runCommand(t.Context(), args, outside{stdout: &out, stderr: os.Stderr, folder: t.TempDir(), width: 80}); code != exitDone {
		t.Fatalf("%q: exit code %d", args, code)
	}
	return out.String()
}

// TestDealSlurm deals a run out over a Slurm of one node that it starts, and compares
// what comes out with one process. A shard that dies on its first try is tried again.
func TestDealSlurm(t *testing.T) {
	for _, program := range []string{"sbatch", "slurmctld", "slurmd", "munged"} {
		if _, err := exec.LookPath(program); err != nil {
			t.Skip("Slurm is not here: " + err.Error())
		}
	}
	if os.Getuid() != 0 {
		t.Skip("Slurm's services are started by root alone here")
	}
	lengthwise := filepath.Join(t.TempDir(), "lengthwise")
	if out, err := exec.Command("go", "build", "-o", lengthwise, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	folder := filepath.Join(t.TempDir(), "a squad's study")
	call(t, lengthwise, "demo", folder, "-q")
	want, err := os.ReadFile(filepath.Join(folder, "out", "run.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.RemoveAll(filepath.Join(folder, "out")), os.RemoveAll(filepath.Join(folder, "private"))); err != nil {
		t.Fatal(err)
	}
	env := append(startSlurm(t), "LENGTHWISE_PAUSE=0")
	script := filepath.Join(folder, "deal.sh")
	deal := exec.Command(lengthwise, "deal", "slurm", "--shards", "3", "--cpus", "1", "--study", folder)
	text, err := deal.Output()
	if err != nil {
		t.Fatal(err)
	}
	// The second shard of the first phase fails on its first try.
	once := filepath.Join(folder, "once")
	broken := strings.Replace(string(text), "step || {", `[ "${SLURM_ARRAY_TASK_ID:-}" != 2 ] || [ -e `+shellQuoted(once)+` ] || { touch `+shellQuoted(once)+`; step() { exit 9; }; }`+"\nstep || {", 1)
	if broken == string(text) {
		t.Fatal("the script is another one: the test breaks nothing")
	}
	broken = strings.ReplaceAll(broken, `"${SLURM_ARRAY_TASK_ID:-}"`, `"\${SLURM_ARRAY_TASK_ID:-}"`)
	for _, s := range []string{broken, string(text)} { // what is missing the first time is made the second time
		if err := os.WriteFile(script, []byte(s), 0o755); err != nil {
			t.Fatal(err)
		}
		submit := exec.Command("bash", script)
		submit.Env, submit.Dir = env, folder
		out, err := submit.CombinedOutput()
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		waitForSlurm(t, env)
		_, err = os.Stat(filepath.Join(folder, "out", "run.json"))
		if s == broken && err == nil {
			t.Fatal("a run with a shard missing has a result")
		}
	}
	logs, _ := filepath.Glob(filepath.Join(folder, "slurm-*.out"))
	named := false
	for _, log := range logs {
		data, err := os.ReadFile(log)
		if err != nil {
			t.Fatal(err)
		}
		named = named || strings.Contains(string(data), "lengthwise run --phase read --shard 2/3")
	}
	if !named {
		t.Error("nobody named the shard that was missing")
	}
	got, err := os.ReadFile(filepath.Join(folder, "out", "run.json"))
	if err != nil || string(got) != string(want) {
		t.Errorf("what came out is not what one process makes (%v)", err)
		for _, log := range logs {
			data, _ := os.ReadFile(log)
			t.Logf("%s: %s", filepath.Base(log), data)
		}
	}
}

// startSlurm starts a Slurm of this machine alone, and ends it with the test. What it
// gives is the environment of its commands.
func startSlurm(t *testing.T) []string {
	t.Helper()
	dir := t.TempDir()
	host, err := os.Hostname()
	if err != nil {
		t.Fatal(err)
	}
	host, _, _ = strings.Cut(host, ".")
	conf := filepath.Join(dir, "slurm.conf")
	text := fmt.Sprintf(`ClusterName=test
SlurmctldHost=%[1]s(127.0.0.1)
SlurmUser=root
SlurmdUser=root
SlurmctldPort=16817
SlurmdPort=16818
AuthType=auth/munge
CommunicationParameters=NoInAddrAny,NoCtldInAddrAny
StateSaveLocation=%[2]s/state
SlurmdSpoolDir=%[2]s/spool
SlurmctldPidFile=%[2]s/slurmctld.pid
SlurmdPidFile=%[2]s/slurmd.pid
SlurmctldLogFile=%[2]s/slurmctld.log
SlurmdLogFile=%[2]s/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
MpiDefault=none
ReturnToService=2
SchedulerParameters=batch_sched_delay=0,sched_interval=1,sched_min_interval=0,bf_interval=1
NodeName=%[1]s NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=main Nodes=%[1]s Default=YES MaxTime=INFINITE State=UP
`, host, dir)
	for _, d := range []string{"state", "spool"} {
		if err := os.Mkdir(filepath.Join(dir, d), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(conf, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	env := append(os.Environ(), "SLURM_CONF="+conf)
	start := func(name string, args ...string) {
		t.Helper()
		cmd := exec.Command(name, args...)
		cmd.Env = env
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Skipf("%s does not start here: %v %s", name, err, out)
		}
	}
	if exec.Command("munge", "-n").Run() != nil {
		start("sh", "-c", "mkdir -p /run/munge && chown munge:munge /run/munge && su -s /bin/sh munge -c munged")
	}
	start("slurmctld")
	t.Cleanup(func() { stopByPID(filepath.Join(dir, "slurmctld.pid")) })
	start("slurmd", "-N", host)
	t.Cleanup(func() { stopByPID(filepath.Join(dir, "slurmd.pid")) })
	for range 100 {
		cmd := exec.Command("sinfo", "-h", "-o", "%t")
		cmd.Env = env
		if out, err := cmd.Output(); err == nil && strings.HasPrefix(string(out), "idle") {
			return env
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Skip("Slurm's node does not come up here")
	return nil
}

func stopByPID(path string) {
	if data, err := os.ReadFile(path); err == nil {
		exec.Command("kill", strings.TrimSpace(string(data))).Run()
	}
}

// waitForSlurm waits until its queue is empty.
func waitForSlurm(t *testing.T, env []string) {
	t.Helper()
	for range 600 {
		cmd := exec.Command("squeue", "-h")
		cmd.Env = env
		out, err := cmd.Output()
		if err == nil && strings.TrimSpace(string(out)) == "" {
			return
		}
		time.Sleep(200 * time.Millisecond)
	}
	t.Fatal("jobs are still in Slurm's queue after two minutes")
}
