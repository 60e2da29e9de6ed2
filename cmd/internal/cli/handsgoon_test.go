package cli_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// practice is a practice bench that runs, in a folder of its own.
type practice struct {
	t    *testing.T
	dir  string
	cmd  *exec.Cmd
	out  io.ReadCloser
	base string
	head string // authorises acts
	said string // until hands may begin
}

// practise starts a practice bench and waits until hands may begin.
func practise(t *testing.T, dir string) *practice {
	t.Helper()
	p := &practice{t: t, dir: dir, cmd: exec.Command("steadyrail", "demo", "--plain", "--listen", "127.0.0.1:0", "--workspace", "bench")}
	p.cmd.Dir = dir
	var err error
	if p.out, err = p.cmd.StdoutPipe(); err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.cmd.Process.Kill() }) // it has ended already, unless the test failed
	lines := bufio.NewScanner(p.out)
	for lines.Scan() && !strings.Contains(lines.Text(), "Ctrl-C") {
		p.said += lines.Text() + "\n"
	}
	h, err := store.ReadLock(filepath.Join(dir, "bench"))
	if err != nil {
		t.Fatalf("%v\n%s", err, p.said)
	}
	p.base, p.head = "http://"+h.Address, "Bearer "+h.Token
	return p
}

// ends sends a signal and waits for the process.
func (p *practice) ends(s os.Signal) {
	p.t.Helper()
	if err := p.cmd.Process.Signal(s); err != nil {
		p.t.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, p.out) // to its end, before Wait
	if err := p.cmd.Wait(); (err == nil) != (s != os.Kill) {
		p.t.Fatalf("after %s: %v", s, err)
	}
}

// does runs a command that must go well, and returns what it says.
func (p *practice) does(args ...string) string {
	p.t.Helper()
	code, out, errs := program(p.t, p.dir, append(args, "--workspace", "bench")...)
	if code != 0 {
		p.t.Fatalf("%s: exit %d\n%s%s", args, code, out, errs)
	}
	return out
}

// hands moves the bench: words of demo hands, by commas.
func (p *practice) hands(list string) {
	p.t.Helper()
	for do := range strings.SplitSeq(list, ", ") {
		p.post("/demo/hands", map[string][]string{"do": strings.Fields(do)})
	}
}

// place says where a probe is; on nothing without a rail.
func (p *practice) place(channel, rail, point string, hold capture.Hold) {
	p.t.Helper()
	p.post("/api/v1/placements", capture.Placement{Channel: capture.ChannelID(channel), Rail: rail, Point: point, Hold: hold})
}

// post is what a command sends, without the process of a command.
func (p *practice) post(path string, body any) {
	p.t.Helper()
	text, err := json.Marshal(body)
	if err != nil {
		p.t.Fatal(err)
	}
	req, err := http.NewRequestWithContext(p.t.Context(), http.MethodPost, p.base+path, bytes.NewReader(text))
	if err != nil {
		p.t.Fatal(err)
	}
	req.Header.Set("Authorization", p.head)
	req.Header.Set("Content-Type", "application/json")
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		p.t.Fatal(err)
	}
	defer resp.Body.Close()
	if answer, _ := io.ReadAll(resp.Body); resp.StatusCode/100 != 2 {
		p.t.Fatalf("%s %s: %s", path, text, answer)
	}
}

// until asks the daemon until it is satisfied.
func (p *practice) until(what, path string, into any, is func() bool) {
	p.t.Helper()
	c := http.Client{Timeout: patience}
	defer c.CloseIdleConnections()
	for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		resp, err := c.Get(p.base + path)
		if err == nil {
			err = json.NewDecoder(resp.Body).Decode(into)
			resp.Body.Close()
		}
		if err != nil {
			p.t.Fatal(err)
		}
		if is() {
			return
		}
		if time.Now().After(end) {
			p.t.Fatalf("never: %s; %+v", what, into)
		}
	}
}

// cold reads every rail dead, and none short, each by a meter of its own.
func (p *practice) cold() {
	p.t.Helper()
	rails := [][3]string{{"dmm", "+5 V logic", "TP5"}, {"dmm2", "+12 V audio", "TP12"}, {"dmm3", "-12 V audio", "TP13"}, {"dmm4", "+3.3 V DSP", "TP3"}}
	var now struct {
		Rails []struct {
			Volts    *struct{ Ordinal uint64 }
			Verdicts []capture.Verdict
		}
	}
	for _, r := range rails {
		p.hands("probe " + r[0] + " " + r[2] + " clip")
		p.place(r[0]+"/volts", r[1], r[2], capture.Touched)
	}
	p.until("every rail is read in volts", "/api/v1/rails", &now, func() bool {
		for _, r := range now.Rails {
			if r.Volts == nil {
				return false
			}
		}
		return true
	})
	for _, r := range rails {
		p.place(r[0]+"/ohms", r[1], r[2], capture.Touched)
	}
	p.until("no rail is short", "/api/v1/rails", &now, func() bool {
		passed := 0
		for _, r := range now.Rails {
			for _, v := range r.Verdicts {
				if v.Kind == "short" && v.Outcome == capture.Pass {
					passed++
				}
			}
		}
		return passed == len(rails)
	})
	for _, r := range rails {
		p.place(r[0]+"/ohms", "", "", capture.Touched)
	}
}

// Killed in the middle of a soak that switches, the practice bench goes on: the
// set is as hands left it, the supply as it stood, resume lets the plan go on,
// and the report has the soak in pieces. Ended with Ctrl-C, it is the same. When
// no job is open any more another set comes in.
func TestPracticeBenchGoesOn(t *testing.T) {
	slow(t)
	t.Parallel()
	dir := t.TempDir()
	p := practise(t, dir)
	p.hands("part PS2 out, speed 10")
	p.does("job", "stage", "cold checks")
	p.cold()
	p.does("limits", "supply", "--volts", "24", "--amps", "1.5", "--ovp", "26", "--ocp", "2.25")
	p.does("output", "supply", "on", "--yes")
	p.does("job", "stage", "soak", "--why", "to be killed in")
	p.place("dmm2/volts", "+12 V audio", "TP12", capture.Clipped)
	p.does("soak", "start", "--for", "1h", "--cycles", "2", "--on", "10m", "--off", "20s", "--output", "supply", "--yes")
	var soak capture.RegimenState
	// Longer than a kill may take of the record: a second, ten of the bench.
	under := func(least time.Duration) func() bool {
		return func() bool { return soak.State == capture.PlanRuns && soak.Step == 2 && soak.Watched > least }
	}
	p.until("power is on for a while", "/api/v1/soak", &soak, under(25*time.Second))
	p.ends(os.Kill)

	p = practise(t, dir)
	for _, want := range []string{"AB-0147 goes on, at soak", "Off the board: PS2, stand-in", "its output is on at 24"} {
		if !strings.Contains(p.said, want) {
			t.Errorf("it does not say %q:\n%s", want, p.said)
		}
	}
	if out := p.does("demo", "hands"); !strings.Contains(out, "on TP12, clipped") {
		t.Errorf("hands left it otherwise:\n%s", out)
	}
	if out := p.does("soak", "show"); !strings.Contains(out, "It waits: ") || !strings.Contains(out, "in 2 pieces") {
		t.Errorf("after the kill:\n%s", out)
	}
	p.does("soak", "resume", "--yes")
	p.until("the plan goes on", "/api/v1/soak", &soak, under(soak.Watched+15*time.Second))
	p.does("report", "AB-0147", "--out", "report.html")
	if page, err := os.ReadFile(filepath.Join(dir, "report.html")); err != nil || !strings.Contains(string(page), "in 2 pieces") {
		t.Errorf("the report knows nothing of two pieces, %v", err)
	}
	p.ends(os.Interrupt)

	p = practise(t, dir)
	if out := p.does("soak", "show"); !strings.Contains(p.said, "goes on, at soak") || !strings.Contains(out, "in 3 pieces") {
		t.Errorf("after Ctrl-C:\n%s%s", p.said, out)
	}
	p.does("job", "close", "AB-0147")
	p.ends(syscall.SIGTERM)
	p = practise(t, dir)
	if !strings.Contains(p.said, "No job is open here any more") || !strings.Contains(p.said, "Job AB-0148 is open") {
		t.Errorf("after the job was closed:\n%s", p.said)
	}
	if out := p.does("demo", "hands"); strings.Contains(out, "clipped\ndmm2") || !strings.Contains(out, "PS2           in its place") {
		t.Errorf("the set that came in is none that came in:\n%s", out)
	}
	p.ends(os.Interrupt)
}

// A journal that cannot be gone on with ends the start with what to do.
func TestPracticeBenchWithARuinedJournal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "bench"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "bench", "demo-hands.jsonl"), []byte("{}\nnonsense\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := program(t, dir, "demo", "--plain", "--listen", "127.0.0.1:0", "--workspace", "bench")
	if code != 3 || out != "" || !strings.Contains(errs, "line 1: ") || !strings.Contains(errs, "rename that file") {
		t.Errorf("exit %d, it says %q and %q", code, out, errs)
	}
}
