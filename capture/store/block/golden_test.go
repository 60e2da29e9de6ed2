package block

import (
	"encoding/hex"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

var update = flag.Bool("update", false, "write testdata/vectors.json anew")

const vectorsFile = "testdata/vectors.json"

// vector is a block beside what stands in it. Decoders in other languages are
// tested with it.
type vector struct {
	Name  string      `json:"name"`
	Block string      `json:"block"` // hexadecimal
	Rows  []vectorRow `json:"rows"`
}

// vectorRow is a row: at, tie, value, text, resolution, range, flags, measured,
// half_width, ordinal. Integers stand in decimal figures. A float is the 16
// hexadecimal digits of its bits, the most significant first, and a text is
// hexadecimal too, since it need not be UTF-8.
type vectorRow [10]string

func floatText(v float64) string { return fmt.Sprintf("%016x", math.Float64bits(v)) }

// field reads a field of a vector's row by strconv's rules.
func field(t *testing.T, s string, base int) uint64 {
	if v, err := strconv.ParseInt(s, base, 64); err == nil {
		return uint64(v)
	}
	v, err := strconv.ParseUint(s, base, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func vectorOf(name string, data []byte, rows []Row) vector {
	v := vector{Name: name, Block: hex.EncodeToString(data)}
	for _, r := range rows {
		v.Rows = append(v.Rows, vectorRow{
			fmt.Sprint(int64(r.At)), fmt.Sprint(r.Tie), floatText(r.Value), hex.EncodeToString([]byte(r.Text)), floatText(r.Resolution), floatText(r.Range),
			fmt.Sprint(uint16(r.Flags)), fmt.Sprint(int64(r.Measured)), fmt.Sprint(int64(r.HalfWidth)), fmt.Sprint(r.Ordinal),
		})
	}
	return v
}

func (v vector) rows(t *testing.T) []Row {
	var out []Row
	for _, r := range v.Rows {
		text, err := hex.DecodeString(r[3])
		if err != nil {
			t.Fatal(err)
		}
		number := func(i int) uint64 { return field(t, r[i], 10) }
		float := func(i int) float64 { return math.Float64frombits(field(t, r[i], 16)) }
		out = append(out, Row{At: capture.Instant(number(0)), Tie: uint32(number(1)),
			Value: float(2), Text: string(text), Resolution: float(4), Range: float(5),
			Flags: capture.Flags(number(6)), Measured: capture.Instant(number(7)), HalfWidth: time.Duration(number(8)), Ordinal: number(9)})
	}
	return out
}

// TestVectors: the kept blocks are still read as what stands beside them, and
// still written so. Should a better encoder write other bytes one day, keep
// these as what must stay readable.
func TestVectors(t *testing.T) {
	if *update {
		writeVectors(t)
	}
	text, err := os.ReadFile(vectorsFile)
	if err != nil {
		t.Fatal(err)
	}
	var vectors []vector
	if err := json.Unmarshal(text, &vectors); err != nil {
		t.Fatal(err)
	}
	if len(vectors) != len(cases) {
		t.Fatalf("%d vectors for %d cases", len(vectors), len(cases))
	}
	for _, v := range vectors {
		rows := v.rows(t)
		if got := hex.EncodeToString(roundTrip(t, rows)); got != v.Block {
			t.Errorf("%s: the block is\n%s, want\n%s", v.Name, got, v.Block)
		}
	}
}

func writeVectors(t *testing.T) {
	var lines []string
	for _, c := range cases {
		var e Encoder
		v := vectorOf(c.name, e.Append(nil, c.rows), c.rows)
		line, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, string(line))
	}
	if err := os.WriteFile(vectorsFile, []byte("[\n"+strings.Join(lines, ",\n")+"\n]\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}

// TestExample: the bytes of the example in format.txt are those of its rows.
func TestExample(t *testing.T) {
	text, err := os.ReadFile("format.txt")
	if err != nil {
		t.Fatal(err)
	}
	_, part, ok := strings.Cut(string(text), "The block in hexadecimal:\n")
	part, _, _ = strings.Cut(part, "\nThe stream")
	if !ok {
		t.Fatal("format.txt has no example")
	}
	var got strings.Builder
	for _, line := range regexp.MustCompile(`(?m)^  ((?:[0-9a-f]{2} )*[0-9a-f]{2})(?:  .*)?$`).FindAllStringSubmatch(part, -1) {
		got.WriteString(strings.ReplaceAll(line[1], " ", ""))
	}
	if want := hex.EncodeToString(roundTrip(t, example())); got.String() != want {
		t.Errorf("format.txt has\n%s, the encoder\n%s", got.String(), want)
	}
}
