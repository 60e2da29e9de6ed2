package notify

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// outside is a real Alertmanager on a free port.
type outside struct {
	t             *testing.T
	program, dir  string
	address, conf string
	stop          func()
}

func startOutside(t *testing.T) *outside {
	o := &outside{t: t, dir: t.TempDir()}
	for _, name := range []string{"alertmanager", "prometheus-alertmanager"} {
		if path, err := exec.LookPath(name); err == nil {
			o.program = path
		}
	}
	if o.program == "" {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatal("alertmanager is missing: install the package prometheus-alertmanager")
		}
		t.Skip("SKIPPED: alertmanager is missing; install the package prometheus-alertmanager to test with it")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	o.address = l.Addr().String()
	l.Close()
	o.conf = filepath.Join(o.dir, "alertmanager.yml")
	if err := os.WriteFile(o.conf, []byte("route: {receiver: nobody}\nreceivers: [{name: nobody}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { o.stop() })
	o.start("first")
	return o
}

// start begins with a storage of its own: nothing is remembered.
func (o *outside) start(storage string) {
	o.t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	cmd := exec.CommandContext(ctx, o.program, "--config.file="+o.conf, "--storage.path="+filepath.Join(o.dir, storage),
		"--web.listen-address="+o.address, "--cluster.listen-address=")
	if err := cmd.Start(); err != nil {
		o.t.Fatal(err)
	}
	o.stop = func() { cancel(); _ = cmd.Wait() }
	o.until("it is ready", func() bool { return o.get("/-/ready", nil) == nil })
}

func (o *outside) get(path string, into any) error {
	resp, err := http.Get("http://" + o.address + path)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if resp.StatusCode != 200 {
		return fmt.Errorf("answered %d", resp.StatusCode)
	}
	if into == nil {
		return nil
	}
	return json.NewDecoder(resp.Body).Decode(into)
}

func (o *outside) alerts(query string) (list []alert) {
	if err := o.get("/api/v2/alerts?"+query, &list); err != nil {
		return nil
	}
	return list
}

func (o *outside) until(what string, is func() bool) {
	o.t.Helper()
	for end := time.Now().Add(30 * time.Second); !is(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			o.t.Fatalf("waited in vain until %s; %+v", what, o.alerts(""))
		}
	}
}
