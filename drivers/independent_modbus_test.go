package drivers

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"steadyrail/capture"
	"steadyrail/drivers/sim"
)

// debianPython is the interpreter that has Debian's packages python3-pymodbus,
// python3-serial and python3-serial-asyncio.
const debianPython = "/usr/bin/python3"

// needIndependent skips when there is no independent Modbus library.
func needIndependent(t *testing.T) {
	t.Helper()
	out, err := exec.Command(debianPython, "-c", "import pymodbus.client, pymodbus.server, serial, serial_asyncio").CombinedOutput()
	if err == nil {
		return
	}
	const advice = "no independent Modbus library: apt-get install python3-pymodbus python3-serial python3-serial-asyncio"
	if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
		t.Fatalf("%s: %v: %s", advice, err, out)
	}
	t.Skip(advice)
}

// independentServer runs the server at the far end and returns its link.
func independentServer(t *testing.T, tcp bool) string {
	t.Helper()
	needIndependent(t)
	where, link := "tcp", ""
	if !tcp {
		where, link = terminalPair(t)
	}
	cmd := exec.Command(debianPython, filepath.Join("testdata", "modbus_server.py"), where)
	var problems bytes.Buffer
	cmd.Stderr = &problems
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { // it ends with its input
		in.Close()
		if _ = cmd.Wait(); t.Failed() {
			t.Log(problems.String())
		}
	})
	said, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("the server did not start: %v", err)
	}
	if tcp {
		link = "tcp:127.0.0.1:" + strings.TrimSpace(said)
	}
	return link
}

// terminalPair joins two pseudo-terminals back to back, as a cable would, and
// returns the far end's path and our link.
func terminalPair(t *testing.T) (far, link string) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("pseudo-terminals are not on Windows")
	}
	var masters, slaves []*os.File
	for range 2 {
		m, s, err := pty.Open()
		if err != nil {
			t.Fatal(err)
		}
		masters, slaves = append(masters, m), append(slaves, s)
	}
	for _, s := range slaves { // both stay open: their users come and go
		raw := exec.Command("stty", "raw", "-echo", "-F", s.Name())
		if out, err := raw.CombinedOutput(); err != nil {
			t.Fatalf("stty: %v: %s", err, out)
		}
	}
	go func() { _, _ = io.Copy(masters[0], masters[1]) }() // both end when the masters are closed
	go func() { _, _ = io.Copy(masters[1], masters[0]) }()
	t.Cleanup(func() {
		for i := range masters {
			slaves[i].Close()
			masters[i].Close()
		}
	})
	return slaves[0].Name(), "serial:" + slaves[1].Name()
}

// independentModel reads what the independent server holds.
const independentModel = `
title: far end of a test
dialect: modbus
source: drivers/testdata/modbus_server.py
line: {answer_timeout: 1 s}
identity: {model: {register: 0, words: 3, as: text}}
channels:
  - {name: volts, quantity: dc_voltage, register: 16, scale: 0.01}
  - {name: amperes, quantity: dc_current, register: 17, scale: 0.001}
  - {name: minus, quantity: dc_voltage, table: input, register: 0, words: 2, signed: true, scale: 0.1}
  - {name: float, quantity: dc_voltage, table: input, register: 2, words: 2, float32: true, word_order: low_first, resolution: 0.001}
output: {table: coil, register: 3}
limits:
  - {name: volts, unit: V, register: 20, scale: 0.001, max: 32}
  - {name: amperes, unit: A, register: 22, words: 2, scale: 0.0001, word_order: low_first, max: 5}
`

// TestIndependentServer: our driver against another implementation, two units on
// one link.
func TestIndependentServer(t *testing.T) {
	for name, tcp := range map[string]bool{"tcp": true, "rtu": false} {
		t.Run(name, func(t *testing.T) {
			link := independentServer(t, tcp)
			model, err := ParseModel("far", "far.yaml", []byte(independentModel))
			if err != nil {
				t.Fatal(err)
			}
			links := &Links{}
			for unit, want := range map[string][]string{"1": {"PSU-1", "5.01", "0.250"}, "17": {"PSU-17", "12.03", "0.750"}} {
				in, err := links.Open(Config{Name: "far", Model: "far", Link: link + "?address=" + unit, Acts: model.Acts(), OnExit: ExitLeave}, Models{"far": model})
				if err != nil {
					t.Fatal(err)
				}
				ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
				defer cancel()
				if err := in.Connect(ctx); err != nil {
					t.Fatal(err)
				}
				defer in.Close()
				got := []string{in.Info().Identity.Model, measure(t, in, "volts").Text, measure(t, in, "amperes").Text}
				if !reflect.DeepEqual(got, want) {
					t.Errorf("unit %s: %q, want %q", unit, got, want)
				}
				// The registers FFFF FFFE, and the float32 409D9A51 with its words swapped.
				if r := measure(t, in, "minus"); r.Text != "-0.2" {
					t.Errorf("minus: %+v", r)
				}
				if r := measure(t, in, "float"); r.Value < 4.925 || r.Value > 4.926 {
					t.Errorf("float: %+v", r)
				}
				for _, a := range [][2]string{
					{"on", "output on, read back"}, {"off", "output off, read back"},
					{"volts 12.5, amperes 0.75", "volts 12.500 V, amperes 0.7500 A, read back"},
				} {
					act := capture.Act{Verb: capture.ActOutput, Text: a[0]}
					if strings.Contains(a[0], " ") {
						act.Verb = capture.ActLimits
					}
					if said, err := in.Do(ctx, act); err != nil || said != a[1] {
						t.Errorf("unit %s: %s: %q, %v", unit, a[0], said, err)
					}
				}
			}
		})
	}
}

// TestIndependentClient: another implementation against our simulated units.
func TestIndependentClient(t *testing.T) {
	needIndependent(t)
	for name, tcp := range map[string]bool{"tcp": true, "rtu": false} {
		t.Run(name, func(t *testing.T) {
			b := sim.NewBench(sim.NewClock(capture.Instant(1_700_000_000_000_000), 1), 1, sim.Scenario{})
			pair, err := b.NewPair(1, tcp)
			if err != nil {
				t.Fatal(err)
			}
			defer pair.Close()
			args := []string{filepath.Join("testdata", "modbus_client.py"), "rtu", strings.TrimPrefix(pair.Link(), "serial:")}
			if tcp {
				host, port, _ := strings.Cut(strings.TrimPrefix(pair.Link(), "tcp:"), ":")
				args = []string{args[0], "tcp", host, port}
			}
			ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
			defer cancel()
			cmd := exec.CommandContext(ctx, debianPython, args...)
			var problems bytes.Buffer
			cmd.Stderr = &problems
			out, err := cmd.Output()
			if err != nil {
				t.Fatalf("%v: %s", err, problems.String())
			}
			var got map[string]any
			if err := json.Unmarshal(out, &got); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			list := func(v ...float64) []any {
				var out []any
				for _, x := range v {
					out = append(out, x)
				}
				return out
			}
			for key, want := range map[string]any{
				"model": list(0x5349, 0x4D2D, 0x4D50, 0x5355), "serial": list(3, 43413), // SIM-MPSU; 240021
				"wrote": true, "set": list(12000, 500, 1400), "one": true, "on": true, "coil": []any{true},
				"output": list(1), "off": true, "text": list(0x3030, 0x3331, 0x3030, 0x3132), // 00310012
				"nowhere": 2.0, "too much": 3.0,
			} {
				if !reflect.DeepEqual(got[key], want) {
					t.Errorf("%s: %v, want %v", key, got[key], want)
				}
			}
			if m, ok := got["meter"].([]any); !ok || len(m) != 2 {
				t.Errorf("meter: %v", got["meter"])
			}
		})
	}
}
