package metrics_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// tool finds a program of the Debian package prometheus, or skips loudly.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatalf("%s is missing: install the package prometheus", name)
		}
		t.Skipf("SKIPPED: %s is missing; install the package prometheus to check against it", name)
	}
	return path
}

func TestPromtoolTakesThePage(t *testing.T) {
	cmd := exec.Command(tool(t, "promtool"), "check", "metrics")
	m := full(bench)
	m.Detected(time.Millisecond)
	cmd.Stdin = strings.NewReader(page(t, m))
	if out, err := cmd.CombinedOutput(); err != nil || len(bytes.TrimSpace(out)) > 0 {
		t.Errorf("promtool check metrics: %v\n%s", err, out)
	}
}

func TestPromtoolTakesTheRules(t *testing.T) {
	if out, err := exec.Command(tool(t, "promtool"), "check", "rules", filepath.FromSlash("../prometheus/alerts.yaml")).CombinedOutput(); err != nil {
		t.Errorf("promtool check rules: %v\n%s", err, out)
	}
}

// The rules about the record fire when they must, and only then.
func TestPromtoolTriesTheRules(t *testing.T) {
	if out, err := exec.Command(tool(t, "promtool"), "test", "rules", filepath.FromSlash("../prometheus/alerts_test.yaml")).CombinedOutput(); err != nil {
		t.Errorf("promtool test rules: %v\n%s", err, out)
	}
}

// A real Prometheus scrapes a real server, and evaluates our rules.
func TestPrometheusScrapes(t *testing.T) {
	path := tool(t, "prometheus")
	srv := httptest.NewServer(full(bench).Handler())
	defer srv.Close()
	dir := t.TempDir()
	rules, err := filepath.Abs("../prometheus/alerts.yaml")
	if err != nil {
		t.Fatal(err)
	}
	config := filepath.Join(dir, "prometheus.yml")
	text := fmt.Sprintf("global: {scrape_interval: 500ms, evaluation_interval: 500ms}\nrule_files: [%q]\nscrape_configs:\n- job_name: steadyrail\n  honor_labels: true\n  static_configs: [{targets: [%q]}]\n", rules, strings.TrimPrefix(srv.URL, "http://"))
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	address := freePort(t)
	log := &bytes.Buffer{}
	cmd := exec.Command(path, "--config.file="+config, "--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+address)
	cmd.Stdout, cmd.Stderr = log, log
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = cmd.Process.Kill(); _ = cmd.Wait() }()
	want := map[string]string{
		`steadyrail_rail_volts{job="AB-0147",rail="+5 V logic"}`:          "5.012",
		`ALERTS{alertname="RailAlarm",alertstate="firing",job="AB-0147"}`: "1",
	}
	deadline := time.Now().Add(30 * time.Second)
	for query, value := range want {
		for {
			got, err := ask(address, query)
			if err == nil && got == value {
				break
			}
			if time.Now().After(deadline) {
				_ = cmd.Process.Kill()
				_ = cmd.Wait()
				t.Fatalf("%s = %q (%v), want %s\n%s", query, got, err, value, log)
			}
			time.Sleep(100 * time.Millisecond) // another process: there is nothing else to wait for
		}
	}
}

func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// ask returns the value of the first sample of an instant query.
func ask(address, query string) (string, error) {
	r, err := http.Get("http://" + address + "/api/v1/query?query=" + url.QueryEscape(query))
	if err != nil {
		return "", err
	}
	defer r.Body.Close()
	var answer struct {
		Data struct {
			Result []struct{ Value [2]any }
		}
	}
	if err := json.NewDecoder(r.Body).Decode(&answer); err != nil {
		return "", err
	}
	if len(answer.Data.Result) == 0 {
		return "", nil
	}
	return fmt.Sprint(answer.Data.Result[0].Value[1]), nil
}
