package cli

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

// TestPeopleAndPrograms: what people read has the bench's mark, JSON keeps the
// point, and what lies under a stream is what it was made of.
func TestPeopleAndPrograms(t *testing.T) {
	var out, talk strings.Builder
	s := forPeople(strings.NewReader(""), &out, &talk)
	fmt.Fprintln(s.out, "4.98 V")
	s.read(capture.Comma, []string{"+3.3 V DSP"})
	n, err := fmt.Fprintln(s.out, "+3.3 V DSP 3.101 V")
	if err != nil || n != len("+3.3 V DSP 3.101 V\n") {
		t.Error(n, err)
	}
	s.say("%s", "low by 0.12 V")
	if err := writeJSON(s.out, map[string]string{"say": "4.98 V"}); err != nil {
		t.Fatal(err)
	}
	if got := out.String(); got != "4.98 V\n+3.3 V DSP 3,101 V\n{\n  \"say\": \"4.98 V\"\n}\n" {
		t.Errorf("%q", got)
	}
	if talk.String() != "low by 0,12 V\n" {
		t.Errorf("%q", talk.String())
	}
	if under(people{w: os.Stdout}) != os.Stdout || under(os.Stdout) != os.Stdout {
		t.Error("the stream under it")
	}
}

// What people read has true minus signs; what is pasted, JSON and a shell's completion
// keep the hyphen.
func TestTheMinusOfPeople(t *testing.T) {
	var out, talk strings.Builder
	s := forPeople(strings.NewReader(""), &out, &talk)
	s.say("%s", `-12 V audio: put it there with steadyrail place dmm "-12 V audio"`)
	if got := talk.String(); got != "\u221212 V audio: put it there with steadyrail place dmm \"-12 V audio\"\n" {
		t.Errorf("%q", got)
	}
	if err := told(s, dashboards.Result{Say: "dmm3/volts is on -12 V audio."}, nil); err != nil || out.String() != "dmm3/volts is on \u221212 V audio.\n" {
		t.Errorf("%q %v", out.String(), err)
	}
	out.Reset()
	if err := writeJSON(s.out, "-12 V audio"); err != nil || !strings.Contains(out.String(), "-12 V audio") {
		t.Errorf("%q %v", out.String(), err)
	}
	out.Reset()
	root := newRoot(s)
	root.SetArgs([]string{"completion", "zsh"})
	if err := root.Execute(); err != nil || !strings.Contains(out.String(), "[2,-1]") || strings.Contains(out.String(), "\u2212") {
		t.Errorf("the completion for a shell: %v", err)
	}
	if exitCode(fmt.Errorf("-12 V audio is away"), s.err) == 0 || strings.Contains(large("\u221212", 80), "?") || large("\u221212", 80) != large("-12", 80) {
		t.Error("an error, or the large minus")
	}
}
