package cli

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"steadyrail/capture"
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
	if under(people{os.Stdout, new(capture.Turner)}) != os.Stdout || under(os.Stdout) != os.Stdout {
		t.Error("the stream under it")
	}
}
