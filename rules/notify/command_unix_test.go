//go:build unix

package notify

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// script writes a program of its own; nothing but its path stands in argv.
func script(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "tell")
	if err := os.WriteFile(path, []byte("#!/bin/sh\n"+text), 0o700); err != nil {
		t.Fatal(err)
	}
	return path
}

func commandOf(t *testing.T, timeout time.Duration, argv ...string) Notifier {
	t.Helper()
	n, err := Config{Kind: "command", Name: "pager", Argv: argv, Timeout: timeout}.Open(Env{Bench: "east"})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// The message is on standard input; arguments and environment come from the
// configuration alone, and no shell reads them.
func TestCommandGetsTheAlarm(t *testing.T) {
	t.Setenv("STEADYRAIL_SECRET", "do not pass on")
	dir := t.TempDir()
	n := commandOf(t, 0, script(t, `cat >"$1/in"; env | sort >"$1/env"; echo "$#:$2" >"$1/args"`), dir, "$(touch pwned); `id` \"")
	m := message(1)
	m.Alarm.Rail, m.Alarm.Say = "$(touch pwned)", "; rm -rf /"
	if err := n.Notify(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	read := func(name string) string { b, _ := os.ReadFile(filepath.Join(dir, name)); return string(b) }
	var got struct{ Rail, Sentence string }
	if err := json.Unmarshal([]byte(read("in")), &got); err != nil || got.Rail != m.Alarm.Rail || got.Sentence != m.Alarm.Say {
		t.Errorf("stdin %q", read("in"))
	}
	if read("args") != "2:$(touch pwned); `id` \"\n" {
		t.Errorf("arguments %q", read("args"))
	}
	env := read("env")
	if strings.Contains(env, "SECRET") || strings.Contains(env, "rm -rf") || !strings.Contains(env, "STEADYRAIL_BENCH=east\nSTEADYRAIL_NOTIFIER=pager\n") || !strings.Contains(env, "PATH=") {
		t.Errorf("environment\n%s", env)
	}
}

func TestCommandAnswers(t *testing.T) {
	for text, want := range map[string]struct {
		permanent bool
		say       string
	}{
		"exit 75": {false, "tried later"},
		"echo 'no modem' >&2; echo x >&2; exit 3": {true, "exit status 3: no modem"},
		`printf '\033[31mred\n' >&2; exit 1`:      {true, "exit status 1: [31mred"},
		"yes | head -c 100000 >&2; exit 1":        {true, "exit status 1: y"},
	} {
		err := commandOf(t, 0, script(t, text)).Notify(t.Context(), message(1))
		if err == nil || errors.Is(err, ErrPermanent) != want.permanent || !strings.Contains(err.Error(), want.say) || len(err.Error()) > 500 {
			t.Errorf("%s: %v", text, err)
		}
	}
	if err := commandOf(t, 0, script(t, "yes | head -c 1000000; exit 0")).Notify(t.Context(), message(1)); err != nil {
		t.Errorf("much output: %v", err)
	}
}

// A time-out ends the command and everything it started.
func TestCommandThatHangs(t *testing.T) {
	dir := t.TempDir()
	n := commandOf(t, 300*time.Millisecond, script(t, `sleep 600 & echo $! >"$1/child"; echo busy >&2; wait`), dir)
	err := n.Notify(t.Context(), message(1))
	if err == nil || errors.Is(err, ErrPermanent) || !strings.Contains(err.Error(), "longer than allowed") {
		t.Fatalf("said %v", err)
	}
	b, err := os.ReadFile(filepath.Join(dir, "child"))
	if err != nil {
		t.Skipf("SKIPPED: the machine was too busy to begin the command: %v", err)
	}
	var pid int
	if err := json.Unmarshal(b, &pid); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(20 * time.Second); running(pid); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("child %d lives on", pid)
		}
	}
}

// running reports whether a process is there and no corpse that waits for its
// parent.
func running(pid int) bool {
	if syscall.Kill(pid, 0) != nil {
		return false
	}
	stat, err := os.ReadFile("/proc/" + itoa(pid) + "/stat")
	return err != nil || !strings.Contains(string(stat), ") Z ")
}

func itoa(n int) string { b, _ := json.Marshal(n); return string(b) }
