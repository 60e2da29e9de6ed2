package scpi

import (
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"

	"steadyrail/capture"
)

// TestBlocks holds unblock against the blocks of IEEE 488.2 in
// testdata/reference/scpi/blocks.json.
func TestBlocks(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/scpi/blocks.json")
	if err != nil {
		t.Fatal(err)
	}
	var set struct {
		Valid []struct {
			Bytes, Prefix, Payload string
			Length                 int `json:"payload_length"`
		}
		Invalid []string
	}
	if err := json.Unmarshal(data, &set); err != nil {
		t.Fatal(err)
	}
	if len(set.Valid) < 7 || len(set.Invalid) < 4 {
		t.Fatalf("only %d valid and %d invalid blocks", len(set.Valid), len(set.Invalid))
	}
	for _, c := range set.Valid {
		block := c.Bytes
		if block == "" {
			block = c.Prefix + strings.Repeat("x", c.Length)
		}
		got, err := unblock(block)
		if err != nil || (c.Payload != "" && got != c.Payload) || (c.Length != 0 && len(got) != c.Length) {
			t.Errorf("%.20q: got %.20q of %d bytes, %v", block, got, len(got), err)
		}
		for _, cut := range []string{block[:len(block)-1], block + "x"} {
			if _, err := unblock(cut); !errors.Is(err, ErrMalformed) {
				t.Errorf("%.20q is taken: %v", cut, err)
			}
		}
	}
	d, _ := played(t, "> X\n")
	for _, s := range append(set.Invalid, "#0AB", "#1xAB", "#9", "#9999999999") {
		if v, _, _, _, err := d.number("READ?", s, capture.DCVoltage, capture.Volt); !errors.Is(err, ErrMalformed) {
			t.Errorf("%q gives %g, %v", s, v, err)
		}
	}
}

// A meter may wrap its number into a block; one that was cut is no number.
func TestNumberInBlock(t *testing.T) {
	d, _ := played(t, "> X\n")
	for answer, want := range map[string]float64{"#15+5.01": 5.01, "#206-1.5E0": -1.5, "+5.01": 5.01} {
		v, _, _, _, err := d.number("READ?", answer, capture.DCVoltage, capture.Volt)
		if err != nil || v != want {
			t.Errorf("%q: %g, %v", answer, v, err)
		}
	}
	if _, _, _, _, err := d.number("READ?", "#16+5.01", capture.DCVoltage, capture.Volt); !errors.Is(err, ErrMalformed) || d.doubt == nil {
		t.Errorf("a cut block: %v, doubt %v", err, d.doubt)
	}
}
