package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture"
)

// decoder is a reader of job files that is not ours: it was written in Python
// from the two texts that every file carries, before its author had seen the
// code of this package.
const decoder = "../../testdata/decoder"

// mostDecoderLines is how long each of its two files, one for each text, may be.
const mostDecoderLines = 149

// python returns a command that runs a file of the decoder, with nothing but
// Python's standard library to import from.
func python(t *testing.T, file string, args ...string) *exec.Cmd {
	t.Helper()
	path, err := exec.LookPath("python3")
	if err == nil {
		return exec.Command(path, append([]string{"-S", "-E", "-B", filepath.Join(decoder, file)}, args...)...)
	}
	const advice = "no python3: apt-get install python3"
	if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
		t.Fatal(advice)
	}
	t.Skip("SKIPPED: " + advice)
	return nil
}

// decoded runs the decoder and returns the lines it prints.
func decoded(t *testing.T, cmd *exec.Cmd) []string {
	t.Helper()
	var problems bytes.Buffer
	cmd.Stderr = &problems
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, problems.String())
	}
	return strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
}

// told are the same lines, told by this package.
func told(t *testing.T, path string) (lines []string) {
	t.Helper()
	j, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer closeJob(t, j)
	line := func(v ...any) {
		text, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, string(text))
	}
	bits := func(v float64) string { return fmt.Sprintf("%016x", math.Float64bits(v)) }
	for _, row := range rowsOf(t, j) {
		switch r := row.reading; row.kind {
		case kindReading:
			line("reading", row.seq, row.at, r.Channel, r.Quantity.String(), bits(r.Value), r.Text, bits(r.Resolution), bits(r.Range),
				r.Flags, r.Measured, r.HalfWidth, r.Ordinal)
		case kindItem:
			line("item", row.seq, row.at, row.name, row.body)
		default:
			line("transition", row.seq, row.at, row.body)
		}
	}
	head := verify(t, j)
	line("head", head.Count, head.Last, head.Hash)
	return lines
}

// plain writes a line of JSON as we would, so that lines can be compared.
func plain(t *testing.T, line string) string {
	t.Helper()
	var v []any
	d := json.NewDecoder(strings.NewReader(line))
	d.UseNumber()
	if err := d.Decode(&v); err != nil {
		t.Fatalf("%s: %v", line, err)
	}
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func wantDecoded(t *testing.T, path string) {
	t.Helper()
	got := decoded(t, python(t, "jobfile.py", path))
	want := told(t, path)
	if len(got) != len(want) {
		t.Errorf("%d lines from Python, %d from Go", len(got), len(want))
	}
	for i := range min(len(got), len(want)) {
		if a, b := plain(t, got[i]), plain(t, want[i]); a != b {
			t.Fatalf("line %d\nPython %s\n    Go %s", i+1, a, b)
		}
	}
}

// oddJob makes the file of a job whose readings are hard to write down: some
// fill blocks, some stand in what waits for one, some at the same instants.
func oddJob(t *testing.T) string {
	t.Helper()
	j := create(t, workspace(t, quick), "AB-0147")
	values := []float64{0, math.Copysign(0, -1), math.NaN(), math.Float64frombits(0xfff0_0000_dead_beef), math.Inf(1), math.Inf(-1), 5e-324,
		-2.2250738585072014e-308, math.MaxFloat64, 0.1 + 0.2, -1e-9, 123456789012345678}
	texts := []string{"", "-0.000", "+9.0000E+00", ".5", "5.", "-.5e-3", "007", "1e400", "-1e-400", "OVLD", "é Ω", "\xff\x00", "999999999999999999", "12345678901234567890"}
	flags := []capture.Flags{0, 0, capture.TimedOut, capture.Held, 0, capture.Typed | capture.ByEye}
	for i := range 10_000 {
		at := t0 + capture.Instant(i/3)*40_000
		if i > 5000 {
			at += 3600 * second
		}
		rec := volts(at, []capture.ChannelID{"a/volts", "b/volts"}[i%7%2], values[i%len(values)])
		r := rec.Item.(capture.Reading)
		r.Text, r.Flags = texts[i%len(texts)], flags[i/100%len(flags)]
		switch {
		case i/2000 == 1:
			r.Value, r.Text = math.Copysign(0, -1), "-0.000"
		case i%2 == 0:
			r.Value, _, _, _ = capture.ParseResponse(r.Text)
		}
		r.Resolution = []float64{0, 1e-4, math.NaN()}[i/1000%3]
		r.Ordinal = []uint64{uint64(i), math.MaxUint64 - uint64(i), 1 << 63}[i/500%3]
		if i%501 == 0 {
			r.Measured, r.HalfWidth = math.MinInt64, math.MaxInt64
		}
		rec.Item = r
		j.Consume(rec)
		if i%1000 == 500 {
			j.Consume(act(at, capture.ActNote))
			j.Transition(capture.Transition{At: at, Alarm: "a", Value: math.NaN()})
		}
		if i%700 == 0 {
			settle(t, j)
		}
	}
	closeJob(t, j)
	return j.Path()
}

func TestPythonReadsWhatWeWrote(t *testing.T) {
	python(t, "jobfile.py")
	files := map[string]func(t *testing.T) string{
		"full blocks and folded commits": func(t *testing.T) string { path, _ := longJob(t); return path },
		"odd readings":                   oddJob,
		"nothing yet": func(t *testing.T) string {
			j := create(t, workspace(t, quick), "AB-0147")
			closeJob(t, j)
			return j.Path()
		},
		"left by a crash": func(t *testing.T) string {
			j := create(t, workspace(t, quick), "AB-0147")
			recs, then := corpusRecords()
			for _, rec := range recs {
				j.Consume(rec)
			}
			then(j)
			settle(t, j)
			path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
			for _, end := range []string{"", "-wal"} {
				content, err := os.ReadFile(j.Path() + end)
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(path+end, content, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			return path
		},
		"made in format 1": func(t *testing.T) string {
			packed, err := os.ReadFile("testdata/format1/closed" + Extension + ".gz")
			if err != nil {
				t.Fatal(err)
			}
			w := workspace(t, quick)
			path, err := w.Path("AB-0147")
			if err != nil {
				t.Fatal(err)
			}
			unpack(t, packed, path)
			j, err := w.Open("AB-0147", t0+1000*second)
			if err != nil {
				t.Fatal(err)
			}
			j.Consume(volts(t0+2000*second, "dmm/volts", 5.5))
			closeJob(t, j)
			return path
		},
	}
	for name, file := range files {
		t.Run(name, func(t *testing.T) { wantDecoded(t, file(t)) })
	}
}

func TestPythonFindsWhatWasChanged(t *testing.T) {
	python(t, "jobfile.py")
	path, _ := longJob(t)
	long, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	short := tenCommits(t)
	for _, c := range []struct {
		content   []byte
		statement string
	}{
		{short, "UPDATE item SET body = replace(body, 'note', 'Note') WHERE seq = 6"},
		{short, "UPDATE transition SET at = at + 1 WHERE seq = 7"},
		{short, "DELETE FROM item WHERE seq = 6"},
		{short, "UPDATE channel SET name = 'dmm/ohms'"},
		{short, "UPDATE tail SET ties = ties + 1 WHERE n = 3"},
		{short, "UPDATE tail SET first = first - 1 WHERE n = 3"},
		{short, "UPDATE tail SET upto = upto + 1 WHERE n = 10"},
		{short, "UPDATE tail SET hash = zeroblob(32) WHERE n = 3"},
		{short, "UPDATE tail SET data = (SELECT data FROM tail WHERE n = 3) WHERE n = 4"},
		{short, "PRAGMA user_version = 3"},
		{long, "UPDATE block SET data = CAST(substr(data, 1, 4000) || x'00' || substr(data, 4002) AS BLOB) WHERE id = (SELECT max(id) FROM block)"},
		{long, "UPDATE brief SET base = base + 1 WHERE id = (SELECT max(id) FROM brief)"},
		{long, "UPDATE brief SET data = CAST(substr(data, 1, 20) || x'00' || substr(data, 22) AS BLOB)"},
		{long, "DELETE FROM brief WHERE id = (SELECT max(id) FROM brief)"},
		{long, "UPDATE fold SET rule = 1"},
		{long, "UPDATE fold SET tree = zeroblob(8)"},
	} {
		changed := filepath.Join(t.TempDir(), "AB-0147"+Extension)
		if err := os.WriteFile(changed, c.content, 0o600); err != nil {
			t.Fatal(err)
		}
		db, err := openWriter(ctx, changed, jobKind)
		if err != nil {
			t.Fatal(err)
		}
		_, err = db.Exec(c.statement)
		db.Close()
		if err != nil {
			t.Fatal(err)
		}
		cmd := python(t, "jobfile.py", changed)
		var says bytes.Buffer
		cmd.Stderr = &says
		if err := cmd.Run(); err == nil || cmd.ProcessState.ExitCode() != 1 || strings.Count(says.String(), "\n") != 1 {
			t.Errorf("%s\n\t%v: %s", c.statement, err, says.String())
		}
	}
}

// The blocks that are kept as check values are read by Python as well.
func TestPythonReadsTheCheckValues(t *testing.T) {
	cmd := python(t, "block.py")
	text, err := os.ReadFile("block/testdata/vectors.json")
	if err != nil {
		t.Fatal(err)
	}
	var vectors []struct {
		Name, Block string
		Rows        [][]string
	}
	if err := json.Unmarshal(text, &vectors); err != nil {
		t.Fatal(err)
	}
	var in strings.Builder
	for _, v := range vectors {
		in.WriteString(v.Block + "\n")
	}
	cmd.Stdin = strings.NewReader(in.String())
	got := decoded(t, cmd)
	if len(got) != len(vectors) {
		t.Fatalf("%d blocks of %d", len(got), len(vectors))
	}
	for i, v := range vectors {
		want, err := json.Marshal(v.Rows)
		if err != nil {
			t.Fatal(err)
		}
		if plain(t, got[i]) != string(want) {
			t.Errorf("%s: %s\nwant %s", v.Name, got[i], want)
		}
	}
}

func TestDecoderIsShort(t *testing.T) {
	files, err := filepath.Glob(decoder + "/*.py")
	if err != nil || len(files) != 2 {
		t.Fatal(files, err)
	}
	for _, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if n := bytes.Count(text, []byte("\n")); n > mostDecoderLines {
			t.Errorf("%s has %d lines, at most %d are allowed", path, n, mostDecoderLines)
		}
	}
}

