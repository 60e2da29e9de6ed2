package export

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"strconv"
	"testing"
	"time"

	"steadyrail/capture"
)

// elsewhere reads our file with Python's csv module and prints the rows with
// every number in hexadecimal, exact, and every time in microseconds since 1970.
const elsewhere = `
import csv, datetime, io, json, sys
sep, mark = sys.argv[1], sys.argv[2]
text = io.TextIOWrapper(sys.stdin.buffer, encoding="utf-8", newline="")
epoch = datetime.datetime(1970, 1, 1, tzinfo=datetime.timezone.utc)
out = []
for row in csv.DictReader(text, delimiter=sep, strict=True):
    for name in ("value", "resolution", "half_width_s"):
        row[name] = float(row[name].replace(mark, ".")).hex() if row[name] else ""
    for name in ("answered", "measured"):
        row[name] = (datetime.datetime.fromisoformat(row[name]) - epoch) // datetime.timedelta(microseconds=1)
    out.append(row)
json.dump(out, sys.stdout)
`

func python(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("python3")
	if err == nil {
		return path
	}
	const advice = "no python3: apt-get install python3"
	if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
		t.Fatal(advice)
	}
	t.Skip("SKIPPED: " + advice)
	return ""
}

// A reader that is not ours finds the same times, values and names in what was
// written, in both dialects.
func TestReadElsewhere(t *testing.T) {
	interpreter := python(t)
	values := []float64{5.012, -12.07, 1e-9, 1.2345678901234567e-300, 123456789.125, 0, math.Nextafter(5, 6), -0.001, 1e15}
	place := capture.Placement{Channel: "dmm/volts", Rail: "+5 V logic; \"the, old\" one\r\nwith a line", Point: "TP5,0"}
	items := []capture.Item{place}
	for i, v := range values {
		r := volts(v, "", uint64(i+1), 0)
		r.HalfWidth = time.Duration(i) * 1500 * time.Microsecond
		items = append(items, r)
	}
	items = append(items, volts(0, "", 99, capture.OverRange))
	for mark, args := range map[capture.DecimalMark][2]string{capture.Point: {",", "."}, capture.Comma: {";", ","}} {
		var file bytes.Buffer
		if err := WriteCSV(&file, log(items...), Options{Zone: time.FixedZone("", -5*3600-1800), Mark: mark}); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(interpreter, "-c", elsewhere, args[0], args[1])
		var problems bytes.Buffer
		cmd.Stdin, cmd.Stderr = &file, &problems
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("%s: %v: %s", mark, err, problems.String())
		}
		var rows []map[string]any
		if err := json.Unmarshal(out, &rows); err != nil {
			t.Fatal(err)
		}
		if len(rows) != len(values)+1 {
			t.Fatalf("%s: %d rows, want %d", mark, len(rows), len(values)+1)
		}
		for i, row := range rows {
			want := items[i+1].(capture.Reading)
			if want.HasValue() && !same(row["value"], want.Value) || !want.HasValue() && row["value"] != "" {
				t.Errorf("%s: row %d has the value %v, want %v", mark, i, row["value"], want.Value)
			}
			if !same(row["resolution"], want.Resolution) || !same(row["half_width_s"], want.HalfWidth.Seconds()) || row["rail"] != Harmless(place.Rail) || row["point"] != place.Point || row["flags"] != want.Flags.String() {
				t.Errorf("%s: row %d is %v, want %+v", mark, i, row, want)
			}
			if at := t0.Add(time.Duration(i+1) * time.Second); row["answered"] != float64(at) || row["measured"] != float64(want.Measured) {
				t.Errorf("%s: row %d is of %v and %v, want %d and %d", mark, i, row["answered"], row["measured"], at, want.Measured)
			}
		}
	}
}

// same reports whether a hexadecimal number of Python's is exactly v.
func same(cell any, v float64) bool {
	text, _ := cell.(string)
	got, err := strconv.ParseFloat(text, 64)
	return err == nil && got == v
}
