package comparison

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// program finds an outside program under one of its names, or skips loudly.
func program(tb testing.TB, debian string, names ...string) string {
	tb.Helper()
	for _, name := range names {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
		tb.Fatalf("%s is missing: install the package %s", names[0], debian)
	}
	tb.Skipf("SKIPPED: %s is missing; install the package %s to compare with it", names[0], debian)
	return ""
}

// pipeline is a Prometheus that scrapes and evaluates each second and an
// Alertmanager that tells a webhook without waiting.
type pipeline struct {
	prometheus, alertmanager string // addresses
}

// pipelinePrograms skips where the pipeline cannot run.
func pipelinePrograms(tb testing.TB) (prometheus, alertmanager string) {
	tb.Helper()
	return program(tb, "prometheus", "prometheus"), program(tb, "prometheus-alertmanager", "prometheus-alertmanager", "alertmanager")
}

// startPipeline lets a pipeline with the given alert rules watch the metrics
// page of target and tell the webhook. It waits until both have begun.
func startPipeline(tb testing.TB, target, rules, webhook string) pipeline {
	tb.Helper()
	prometheus, alertmanager := pipelinePrograms(tb)
	dir := tb.TempDir()
	p := pipeline{prometheus: freePort(tb), alertmanager: freePort(tb)}

	// group_interval is the least that lets each alert of a long run be told at
	// once: a group that is resolved ends with its next flush.
	am := write(tb, dir, "alertmanager.yml", fmt.Sprintf(`
route: {receiver: hook, group_by: ["..."], group_wait: 0s, group_interval: 1s, repeat_interval: 1h}
receivers:
- name: hook
  webhook_configs: [{url: %q, send_resolved: true}]
`, webhook))
	run(tb, alertmanager, "--config.file="+am, "--storage.path="+filepath.Join(dir, "alertmanager"),
		"--web.listen-address="+p.alertmanager, "--cluster.listen-address=")

	prom := write(tb, dir, "prometheus.yml", fmt.Sprintf(`
global: {scrape_interval: 1s, evaluation_interval: 1s}
rule_files: [%q]
alerting:
  alertmanagers: [{static_configs: [{targets: [%q]}]}]
scrape_configs:
- job_name: steadyrail
  honor_labels: true
  static_configs: [{targets: [%q]}]
`, rules, p.alertmanager, target))
	run(tb, prometheus, "--config.file="+prom, "--storage.tsdb.path="+filepath.Join(dir, "prometheus"),
		"--web.listen-address="+p.prometheus)

	p.await(tb, "Prometheus has scraped the +5 V", func() bool { return p.query(`steadyrail_rail_volts{rail="+5 V logic"}`) == 1 })
	p.await(tb, "Alertmanager answers", func() bool { return get("http://"+p.alertmanager+"/-/ready", nil) == nil })
	p.await(tb, "Prometheus knows Alertmanager", p.found)
	return p
}

// found reports whether Prometheus has found its Alertmanager.
func (p pipeline) found() bool {
	var answer struct {
		Data struct{ ActiveAlertmanagers []struct{ URL string } }
	}
	return get("http://"+p.prometheus+"/api/v1/alertmanagers", &answer) == nil && len(answer.Data.ActiveAlertmanagers) == 1
}

// query returns how many series an instant query finds; -1 on an error.
func (p pipeline) query(expr string) int {
	var answer struct {
		Data struct{ Result []json.RawMessage }
	}
	if get("http://"+p.prometheus+"/api/v1/query?query="+url.QueryEscape(expr), &answer) != nil {
		return -1
	}
	return len(answer.Data.Result)
}

// await asks again and again: it waits for another process, which cannot tell.
func (p pipeline) await(tb testing.TB, what string, done func() bool) {
	tb.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if done() {
			return
		}
	}
	tb.Fatalf("waited %s in vain: %s", patience, what)
}

// asking keeps no connections, so that nothing of it outlives a test.
var asking = &http.Client{Timeout: 5 * time.Second, Transport: &http.Transport{DisableKeepAlives: true}}

func get(address string, into any) error {
	r, err := asking.Get(address)
	if err != nil {
		return err
	}
	defer r.Body.Close()
	if r.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s", address, r.Status)
	}
	if into == nil {
		_, err = io.Copy(io.Discard, r.Body)
		return err
	}
	return json.NewDecoder(r.Body).Decode(into)
}

// run starts a program that is killed and waited for at the end; what it said
// is shown when the test failed.
func run(tb testing.TB, path string, args ...string) {
	tb.Helper()
	said := &said{}
	cmd := exec.Command(path, args...)
	cmd.Stdout, cmd.Stderr = said, said
	if err := cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait() // it was killed: nothing else is to be learned
		if tb.Failed() {
			tb.Logf("%s said:\n%s", filepath.Base(path), said.text())
		}
	})
}

// said keeps the last of what a program prints.
type said struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (s *said) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.buf.Len() > 1<<16 {
		s.buf.Reset()
	}
	return s.buf.Write(b)
}

func (s *said) text() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.buf.String()
}

// freePort returns an address that nobody listens at just now. Somebody might
// by the time it is used, which is a clear error then.
func freePort(tb testing.TB) string {
	tb.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func write(tb testing.TB, dir, name, text string) string {
	tb.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		tb.Fatal(err)
	}
	return path
}
