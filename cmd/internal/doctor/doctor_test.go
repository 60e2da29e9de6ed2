package doctor

import (
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture/store"
	"steadyrail/configs"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
	"steadyrail/rules/notify"
)

// pages is a daemon that answers from a table.
type pages map[string]string

func (p pages) Holder() (int, string) { return 4711, "127.0.0.1:8470" }

func (p pages) Get(_ context.Context, path string) (int, string, error) {
	text, ok := p[path]
	switch {
	case !ok:
		return 0, "", errors.New("connection refused")
	case strings.HasPrefix(text, "{\"title\""):
		return 503, text, nil
	}
	return 200, text, nil
}

// well is a bench of which nothing is to be said.
func well(t *testing.T) Bench {
	hook, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { hook.Close() })
	dir := filepath.Join(t.TempDir(), "bench")
	w, err := store.OpenWorkspace(dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return Bench{
		File: "bench.yaml", Workspace: dir, Version: "1.2.3", Rules: "5",
		Config: &configs.Config{
			Bench:       "east",
			Instruments: []drivers.Config{{Name: "dmm", Link: "serial:/dev/ttyUSB0", CalibrationDue: "2031-03-04"}},
			Notify:      []notify.Config{{Kind: "webhook", URL: "http://" + hook.Addr().String()}},
		},
		Daemon: pages{"/readyz": "ready\n", "/metrics": `steadyrail_build_info{goversion="go",version="1.2.3"} 1`, "/api/v1/notifiers": `{"notifiers":[]}`},
		Now:    func() time.Time { return time.Date(2031, 1, 4, 9, 0, 0, 0, time.UTC) },
		Ports: func() ([]wire.Port, error) {
			return []wire.Port{{Kind: wire.KindSerial, Name: "/dev/ttyUSB0", Holder: "steadyrail (process 4711)"}}, nil
		},
		Clock:   func() (bool, bool) { return true, true },
		Free:    func(string) (int64, error) { return 50e9, nil },
		Inhibit: func(string) (func(), error) { return func() {}, nil },
	}
}

// Of a bench that is well nothing has to be done. The time of this computer's disk
// is its own affair.
func TestABenchThatIsWell(t *testing.T) {
	for _, f := range well(t).Look(t.Context()) {
		if f.Grade != Fine && f.Looked != "disk, time to be safe" && f.Looked != "record" {
			t.Errorf("%+v", f)
		}
	}
}

// Each thing that can be wrong is found, says what to do, and gives its exit code.
func TestWhatIsWrongIsFound(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*Bench)
		looks string
		says  string
		grade Grade
	}{
		"wrong configuration": {func(b *Bench) {
			b.Config, b.Problems = nil, []configs.Problem{{File: "bench.yaml", Line: 8, Key: "listen", What: "no port", Hint: "write one"}}
		}, "configuration", "bench.yaml:8: listen: no port", Wrong},
		"port is gone":                {func(b *Bench) { b.Ports = func() ([]wire.Port, error) { return nil, nil } }, "port of dmm", "/dev/ttyUSB0 is not there", Attend},
		"port by a link of one's own": {func(b *Bench) { b.Config.Instruments[0].Link = "serial:" + os.Args[0] }, "port of dmm", "under a name that the list of ports does not have", Note},
		"no right": {func(b *Bench) {
			b.Ports = func() ([]wire.Port, error) {
				return []wire.Port{{Kind: wire.KindSerial, Name: "/dev/ttyUSB0", Access: "usermod"}}, nil
			}
		}, "port of dmm", "may not open it", Fails},
		"held by another": {func(b *Bench) {
			b.Ports = func() ([]wire.Port, error) {
				return []wire.Port{{Kind: wire.KindSerial, Name: "/dev/ttyUSB0", Holder: "modem-service (process 471)"}}, nil
			}
		}, "port of dmm", "held by modem-service", Fails},
		"clock":               {func(b *Bench) { b.Clock = func() (bool, bool) { return false, true } }, "clock", "not kept", Attend},
		"little room":         {func(b *Bench) { b.Free = func(string) (int64, error) { return 900e6, nil } }, "disk space", "900 MB free", Attend},
		"no room":             {func(b *Bench) { b.Free = func(string) (int64, error) { return 9e6, nil } }, "disk space", "9.00 MB free", Fails},
		"sleeps":              {func(b *Bench) { b.Inhibit = func(string) (func(), error) { return nil, errors.New("no bus") } }, "sleep", "no bus", Attend},
		"overdue":             {func(b *Bench) { b.Config.Instruments[0].CalibrationDue = "2031-01-03" }, "calibration", "dmm was due on 2031-01-03", Attend},
		"nobody there":        {func(b *Bench) { b.Config.Notify[0].URL = "http://127.0.0.1:1/x" }, "notifier", "webhook http://127.0.0.1:1", Attend},
		"another version":     {func(b *Bench) { b.Version = "1.2.4" }, "version", "the daemon is 1.2.3", Attend},
		"daemon is not ready": {func(b *Bench) { b.Daemon.(pages)["/readyz"] = `{"title":"x","detail":"dmm is \"away\""}` }, "daemon", `not ready: dmm is "away"`, Attend},
		"daemon is mute":      {func(b *Bench) { delete(b.Daemon.(pages), "/readyz") }, "daemon", "does not answer", Fails},
		"a notifier fails": {func(b *Bench) {
			b.Daemon.(pages)["/api/v1/notifiers"] = `{"notifiers":[{"name":"` + b.Config.Notify[0].Label() + `","up":false,"problem":"answered 500"}]}`
		}, "notifier", "answered 500", Attend},
		"no file of a job": {func(b *Bench) {
			if err := os.WriteFile(filepath.Join(b.Workspace, "jobs", "AB-0147"+store.Extension), []byte("rot"), 0o600); err != nil {
				t.Error(err)
			}
		}, "record", "job AB-0147", Fails},
		"jobs that cannot be read": {func(b *Bench) {
			jobs := filepath.Join(b.Workspace, "jobs")
			if err := errors.Join(os.Remove(jobs), os.WriteFile(jobs, nil, 0o600)); err != nil {
				t.Error(err)
			}
		}, "record", "cannot be listed", Fails},
		"not a folder": {func(b *Bench) {
			b.Workspace = filepath.Join(b.Workspace, "file")
			if err := os.WriteFile(b.Workspace, nil, 0o600); err != nil {
				t.Error(err)
			}
		}, "workspace", "is no folder", Fails},
	} {
		t.Run(name, func(t *testing.T) {
			b := well(t)
			c.spoil(&b)
			list := b.Look(t.Context())
			i := slices.IndexFunc(list, func(f Finding) bool { return f.Looked == c.looks && strings.Contains(f.Found, c.says) })
			if i < 0 {
				t.Fatalf("nothing says %q: %+v", c.says, list)
			}
			if f := list[i]; f.Grade != c.grade || f.Do == "" {
				t.Errorf("%+v", f)
			}
			if Code(list) < codes[c.grade] {
				t.Errorf("exit code %d", Code(list))
			}
		})
	}
}

// A calibration holds through the day it is due; a month before it is worth a word.
func TestCalibrationDays(t *testing.T) {
	for due, want := range map[string]Grade{"2031-01-03": Attend, "2031-01-04": Note, "2031-02-01": Note, "2031-02-04": Fine, "": Note} {
		b := well(t)
		b.Config.Instruments[0].CalibrationDue = due
		if list := b.calibration(t.Context()); len(list) != 1 || list[0].Grade != want {
			t.Errorf("due %q: %+v", due, list)
		}
	}
}

func TestTimesOfADisk(t *testing.T) {
	for took, want := range map[time.Duration]Grade{3 * time.Millisecond: Fine, slowSync: Attend, 2 * time.Second: Fails} {
		if f := judgeSync("disk", took)[0]; f.Grade != want {
			t.Errorf("%v: %+v", took, f)
		}
	}
}

// Without a configuration and a daemon it looks at what is there and fails at
// nothing for their lack.
func TestWithoutAnything(t *testing.T) {
	b := well(t)
	b.Config, b.File, b.Daemon = nil, "", nil
	b.Workspace = filepath.Join(b.Workspace, "not", "yet")
	list := b.Look(t.Context())
	for _, f := range list {
		if f.Looked == "workspace" && f.Grade != Note || f.Looked == "disk, time to be safe" && f.Grade == Fails && strings.Contains(f.Found, "written") {
			t.Errorf("%+v", f)
		}
	}
	if Code(nil) != 0 || len(list) < 6 {
		t.Errorf("%d lines", len(list))
	}
}
