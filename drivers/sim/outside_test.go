package sim

import (
	"bufio"
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"
)

// outsidePython is Debian's interpreter, where its packages python3-pyvisa and
// python3-pyvisa-py are.
const outsidePython = "/usr/bin/python3"

// needOutside skips loudly without the general-purpose bus library from Debian,
// and fails where everything has to be there.
func needOutside(t *testing.T) {
	t.Helper()
	out, err := exec.Command(outsidePython, "-c", "import pyvisa, pyvisa_py").CombinedOutput()
	if err == nil {
		return
	}
	said := "NOT CHECKED: the general-purpose bus library is missing: apt-get install python3-pyvisa python3-pyvisa-py: " + string(out)
	if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
		t.Fatal(said)
	}
	t.Skip(said)
}

// outsideAnswer is what the independent client says of one transport.
type outsideAnswer struct {
	Kind, Missing, IDN, Reading, Again, Error string
}

// TestOutsideClient lets a client that shares no line with this project talk to
// the simulated meter over every transport.
func TestOutsideClient(t *testing.T) {
	needOutside(t)
	for _, kind := range []string{"socket", "serial", "vxi11", "hislip"} {
		t.Run(kind, func(t *testing.T) {
			scenario := Scenario{Transport: map[string]string{DMM: map[string]string{"socket": TransportTCP, "vxi11": TransportVXI11, "hislip": TransportHiSLIP}[kind]}}
			b := NewBench(NewClock(begin, 50), 1, scenario)
			if err := b.Start(t.Context()); err != nil {
				t.Fatal(err)
			}
			defer b.Close()
			link := b.Links()[DMM]
			if kind == "serial" && !strings.HasPrefix(link, "serial:") {
				t.Skip("this system has no pseudo-terminals")
			}
			got := askOutside(t, kind, link)
			if got.Missing != "" {
				t.Skipf("NOT CHECKED: %s", got.Missing)
			}
			if got.Kind != kind || got.IDN != IdentityDMM || got.Again != IdentityDMM || got.Error != `0,"No error"` {
				t.Errorf("it heard %+v", got)
			}
			requireReading(t, b, got.Reading)
		})
	}
}

// requireReading holds a reading from outside against one asked within: of the
// same open leads on the same range.
func requireReading(t *testing.T, b *Bench, text string) {
	t.Helper()
	heard, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatalf("it heard the reading %q", text)
	}
	own, ok := b.device(DMM).exec("READ?", nil)
	within, err := strconv.ParseFloat(own, 64)
	if !ok || err != nil {
		t.Fatalf("the meter itself says %q, %v", own, err)
	}
	near(t, "the reading", heard, within, 0.002)
	if len(text) != len(own) {
		t.Errorf("it heard %q where the meter says %q", text, own)
	}
}

func askOutside(t *testing.T, kind, link string) (got outsideAnswer) {
	t.Helper()
	_, where, _ := strings.Cut(link, ":")
	cmd := exec.CommandContext(t.Context(), outsidePython, "testdata/outside_client.py", kind+"="+where)
	var errs bytes.Buffer
	cmd.Stderr, cmd.WaitDelay = &errs, time.Second
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, errs.String())
	}
	line, _ := bufio.NewReader(bytes.NewReader(out)).ReadBytes('\n')
	if err := json.Unmarshal(line, &got); err != nil {
		t.Fatalf("%v: %s\n%s", err, out, errs.String())
	}
	return got
}
