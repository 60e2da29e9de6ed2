package configs

import (
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

var update = flag.Bool("update", false, "write the expected problems anew")

const mistakesDir = "../testdata/configs"

func TestExampleIsValid(t *testing.T) {
	c, problems := Load("example.yaml")
	for _, p := range problems {
		t.Error(p)
	}
	if c == nil {
		t.Fatal("no configuration")
	}
	if c.Bench != "east" || c.Workspace != "bench-east" || c.Listen != "127.0.0.1:8470" || c.LogLevel != "info" || c.Decimal != capture.Point {
		t.Errorf("settings %q %q %q %q %v", c.Bench, c.Workspace, c.Listen, c.LogLevel, c.Decimal)
	}
	if len(c.Instruments) != 4 {
		t.Fatalf("%d instruments", len(c.Instruments))
	}
	dmm, supply := c.Instruments[0], c.Instruments[2]
	if dmm.Name != "dmm" || dmm.Expect.Serial != "00123457" || dmm.Every != 200*time.Millisecond || dmm.Isolation.Port != "isolated" || dmm.CalibrationDue != "2027-03-01" {
		t.Errorf("dmm %+v", dmm)
	}
	if !slices.Equal(supply.Acts, []string{"output", "limits"}) || supply.OnExit != "leave" {
		t.Errorf("supply %+v", supply)
	}
	if len(c.Notify) != 2 || c.Notify[0].Timeout != 2*time.Second {
		t.Errorf("notify %+v", c.Notify)
	}
	want := capture.Rule{Name: "collapse +5 V logic, at any depth", Kind: "collapse", Rail: "+5 V logic", Severity: capture.Urgent, Limit: 4.75, Window: 30 * time.Second, Latch: true}
	trips := capture.Rule{Name: "missing +12 V audio", Kind: "missing", Rail: "+12 V audio", Severity: capture.Urgent, OnDelay: time.Second, OffDelay: time.Second, Trip: "supply"}
	load := capture.Rule{Name: "load of the logic", Kind: "band", Rail: "+5 V logic", Severity: capture.Warning, OnDelay: time.Second, Of: "supply/amperes", Bounds: capture.Bounds{Low: 0.1, High: 1.5}}
	if len(c.Rules) != 6 || !reflect.DeepEqual(c.Rules[0], trips) || !reflect.DeepEqual(c.Rules[1], want) || !reflect.DeepEqual(c.Rules[3], load) || c.Rules[2].Limit != 70 || c.Rules[4].Against != "+12 V audio" || c.Rules[5].Limit != 0.01 {
		t.Errorf("rules %+v", c.Rules)
	}
	if power := (capture.Formula{Name: "power", Text: "supply/volts * supply/amperes", Unit: "W", Age: 4 * time.Second}); !slices.Equal(c.Formulas, []capture.Formula{power}) {
		t.Errorf("formulas %+v", c.Formulas)
	}
	if c.Job == nil || c.Job.Name != "fixture" || len(c.Job.Rails) != 4 || c.Job.Rails[2].Nominal != -12 {
		t.Errorf("job %+v", c.Job)
	}
}

// TestMistakes ranges over the files: each is named after its mistake, and
// the problems that must be reported stand in a file beside it.
func TestMistakes(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(mistakesDir, "*.yaml"))
	if err != nil || len(files) < 40 {
		t.Fatalf("only %d mistakes (%v)", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".yaml"), func(t *testing.T) {
			c, problems := Load(file)
			if c != nil || len(problems) == 0 {
				t.Fatal("the mistake was not seen")
			}
			var b strings.Builder
			for i := range problems {
				problems[i].File = filepath.Base(problems[i].File)
				if problems[i].What == "" {
					t.Error("a problem that says nothing")
				}
			}
			Explain(&b, problems)
			golden := strings.TrimSuffix(file, ".yaml") + ".txt"
			if *update {
				if err := os.WriteFile(golden, []byte(b.String()), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if b.String() != string(want) {
				t.Errorf("got\n%swant\n%s", b.String(), want)
			}
		})
	}
}

func TestAllProblemsAtOnce(t *testing.T) {
	_, problems := Load(filepath.Join(mistakesDir, "many-at-once.yaml"))
	if len(problems) < 8 {
		t.Errorf("only %d problems of a file that has eight", len(problems))
	}
	if !slices.IsSortedFunc(problems, func(a, b Problem) int { return a.Line - b.Line }) {
		t.Error("problems are not in order of line")
	}
}

const least = "instruments:\n  - {name: dmm, model: scpi-multimeter, link: \"tcp:127.0.0.1:5025\"}\n"

func TestPrecedence(t *testing.T) {
	read := func(text string, flags map[string]string) (*Config, []Problem) {
		return Parse("/etc/bench/b.yaml", []byte(text), Options{Flags: flags})
	}
	c, problems := read(least, nil)
	if c == nil || c.Listen != "127.0.0.1:8470" || c.Workspace != filepath.Join("/etc/bench", "bench") {
		t.Fatalf("defaults: %+v %v", c, problems)
	}
	t.Setenv("STEADYRAIL_LISTEN", "127.0.0.1:1")
	t.Setenv("STEADYRAIL_WORKSPACE", "there")
	if c, _ = read(least+"listen: 127.0.0.1:2\n", nil); c == nil || c.Listen != "127.0.0.1:1" || c.Workspace != "there" {
		t.Errorf("environment over file: %+v", c)
	}
	if c, _ = read(least, map[string]string{"listen": "127.0.0.1:3", "instruments": "x"}); c == nil || c.Listen != "127.0.0.1:3" {
		t.Errorf("flag over environment: %+v", c)
	}
	t.Setenv("STEADYRAIL_DECIMAL", "coma")
	_, problems = read(least, map[string]string{"log_level": "loud"})
	if len(problems) != 2 || problems[0].File != "STEADYRAIL_DECIMAL" || problems[1].File != "--log-level" {
		t.Errorf("problems do not name their origin: %v", problems)
	}
}

// Two loads at the same time share nothing.
func TestLoadsAreIndependent(t *testing.T) {
	done := make(chan string, 20)
	for i := range 20 {
		go func() {
			bench := "bench " + string(rune('a'+i))
			c, _ := Parse("b.yaml", []byte(least+"bench: "+bench+"\n"), Options{})
			if c == nil || c.Bench != bench {
				done <- bench
				return
			}
			done <- ""
		}()
	}
	for range 20 {
		if wrong := <-done; wrong != "" {
			t.Errorf("%s was mixed up", wrong)
		}
	}
}

func TestIdentityStaysText(t *testing.T) {
	for _, serial := range []string{"00123457", "12e4", "1_000", "0x1F", "2024-05-01", "1:30", "yes", "~"} {
		text := "instruments:\n  - {name: dmm, model: scpi-multimeter, link: \"tcp:127.0.0.1:5025\", expect: {serial_number: \"" + serial + "\"}}\n"
		c, problems := Parse("b.yaml", []byte(text), Options{})
		if c == nil || c.Instruments[0].Expect.Serial != serial {
			t.Errorf("%q: %v %v", serial, c, problems)
		}
	}
}

func TestMissingAndStrangeFiles(t *testing.T) {
	dir := t.TempDir()
	big, noText := filepath.Join(dir, "big.yaml"), filepath.Join(dir, "latin.yaml")
	if err := os.WriteFile(big, []byte(strings.Repeat("# x\n", 1<<19)), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(noText, []byte("bench: \xe4\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{filepath.Join(dir, "none.yaml"): "no such file", dir: "folder", big: "1 MiB", noText: "UTF-8"} {
		c, problems := Load(path)
		if c != nil || len(problems) != 1 || !strings.Contains(problems[0].String(), want) {
			t.Errorf("%s: %v, want %q", path, problems, want)
		}
	}
}

func TestParseSpan(t *testing.T) {
	good := map[string]time.Duration{"200 ms": 200 * time.Millisecond, "200ms": 200 * time.Millisecond, "0.5 s": 500 * time.Millisecond, "10 min": 10 * time.Minute, "1 h": time.Hour, "50 µs": 50 * time.Microsecond, "0 s": 0}
	for s, want := range good {
		if got, ok := parseSpan(s); !ok || got != want {
			t.Errorf("%q: %v %v", s, got, ok)
		}
	}
	for _, s := range []string{"", "200", "-1 s", "1,5 s", "1 m", "1e9 h", "99999999999999 h", "ms", "1 s 2 ms", " 1 s"} {
		if got, ok := parseSpan(s); ok {
			t.Errorf("%q was read as %v", s, got)
		}
	}
}

// FuzzParse holds the loader to its promise: it never panics, and it gives
// either a configuration or problems with their lines inside the file.
func FuzzParse(f *testing.F) {
	files, _ := filepath.Glob(filepath.Join(mistakesDir, "*.yaml"))
	for _, file := range append(files, "example.yaml") {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, problems := Parse("b.yaml", data, Options{})
		if (c == nil) == (len(problems) == 0) {
			t.Fatalf("config %v with problems %v", c != nil, problems)
		}
		lines := strings.Count(string(data), "\n") + strings.Count(string(data), "\r") + strings.Count(string(data), "\u0085") + strings.Count(string(data), "\u2028") + strings.Count(string(data), "\u2029") + 2
		for _, p := range problems {
			if p.What == "" || p.Line < 0 || p.Line > lines || strings.ContainsAny(p.String(), "\x00\x1b") {
				t.Fatalf("problem %q at line %d of %d", p, p.Line, lines)
			}
		}
		if c != nil {
			for _, in := range c.Instruments {
				if in.Name == "" || in.Model == "" || in.Link == "" {
					t.Fatalf("incomplete instrument %+v", in)
				}
			}
		}
	})
}

// TestUnitAndRules holds what an installer relies on: not root, starts again,
// but not after a wrong configuration, and modem software kept away.
func TestUnitAndRules(t *testing.T) {
	for file, wants := range map[string][]string{
		"steadyrail.service":  {"\nType=simple\n", "\nUser=steadyrail\n", "\nRestart=on-failure\n", "\nRestartPreventExitStatus=2\n", "\nNoNewPrivileges=yes\n", "run --config"},
		"70-steadyrail.rules": {`TAG!="steadyrail", GOTO="steadyrail_end"`, `SUBSYSTEM=="tty", GROUP="steadyrail-bench"`, `ENV{ID_MM_DEVICE_IGNORE}="1"`},
		"README.md":           {"`on_exit`", "70-steadyrail.rules", "steadyrail.service"},
	} {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(data), "\nExecStartPre=") {
			t.Errorf("%s: RestartPreventExitStatus does not look at ExecStartPre", file) // systemd.service(5)
		}
		for _, want := range wants {
			if !strings.Contains(string(data), want) {
				t.Errorf("%s has no %q", file, want)
			}
		}
	}
}

// TestReadmeNamesEveryKey keeps the table of keys true: it is held against
// the example, which uses or names them all.
func TestReadmeNamesEveryKey(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, problems := Parse("b.yaml", []byte("zzzzzzzzzzzz: 1\ninstruments:\n  - {zzzzzzzzzzzz: 1}\nnotify:\n  - {zzzzzzzzzzzz: 1}\nrules:\n  - {zzzzzzzzzzzz: 1}\nformulas:\n  - {zzzzzzzzzzzz: 1}\njob: {zzzzzzzzzzzz: 1}\n"), Options{})
	tables := 0
	for _, p := range problems {
		list, ok := strings.CutPrefix(p.Hint, "known here: ")
		if !ok {
			continue
		}
		tables++
		for _, key := range strings.Split(list, ", ") {
			if !strings.Contains(string(readme), "`"+key+"`") {
				t.Errorf("README.md does not name %s", key)
			}
		}
	}
	if tables != 6 {
		t.Errorf("%d tables of keys, want 6", tables)
	}
}
