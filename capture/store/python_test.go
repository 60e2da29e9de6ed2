package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// decoder is a reader of job files that is not ours: it was written in Python
// from the two texts that every file carries, before its author had seen the
// code of this package.
const decoder = "../../testdata/decoder"

// mostDecoderLines is how long readings.py may be, which decodes every reading of
// a file by itself. What proves the chain stands apart, and is held to the same.
const mostDecoderLines = 149

// python returns a command that runs a file of the decoder, or a statement after
// "-c", with nothing but Python's standard library to import from.
func python(t *testing.T, what string, args ...string) *exec.Cmd {
	t.Helper()
	if testing.Short() {
		t.Skip("the other decoder takes its time")
	}
	path, err := exec.LookPath("python3")
	if err == nil {
		if strings.HasSuffix(what, ".py") {
			what = filepath.Join(decoder, what)
		}
		return exec.Command(path, append([]string{"-S", "-E", "-B", what}, args...)...)
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
				uint16(r.Flags), r.Measured, r.HalfWidth, r.Ordinal)
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
	got := decoded(t, python(t, "chain.py", path))
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

func TestPythonReadsWhatWeWrote(t *testing.T) {
	python(t, "chain.py")
	for name, file := range map[string]func(*testing.T) string{
		"odd readings": oddJob, "nothing yet": emptyJob, "left by a crash": crashedJob, "made in format 1": formerJob, "with pictures": picturedJob,
	} {
		t.Run(name, func(t *testing.T) { wantDecoded(t, file(t)) })
	}
}

// pythonSays changes a copy of the file by hand and returns what the decoder
// has against it.
func pythonSays(t *testing.T, content []byte, statement string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := openWriter(ctx, path, jobKind)
	if err != nil {
		t.Fatal(err)
	}
	_, err = db.Exec("PRAGMA synchronous = OFF; " + statement)
	db.Close()
	if err != nil {
		t.Fatal(err)
	}
	cmd := python(t, "chain.py", path)
	var says bytes.Buffer
	cmd.Stderr = &says
	if err := cmd.Run(); (err == nil) != (says.Len() == 0) || err != nil && cmd.ProcessState.ExitCode() != 1 {
		t.Errorf("%v: %s", err, says.String())
	}
	return says.String()
}

func wantFound(t *testing.T, path string, statements ...string) {
	t.Helper()
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if says := pythonSays(t, content, "UPDATE item SET body = body"); says != "" {
		t.Fatalf("unchanged: %s", says)
	}
	for _, statement := range statements {
		if says := pythonSays(t, content, statement); strings.Count(says, "\n") != 1 {
			t.Errorf("%s\n\tit says %q and not one sentence", statement, says)
		}
	}
}

func TestPythonReadsFullBlocksAndFindsChanges(t *testing.T) {
	python(t, "chain.py")
	path, _ := longJob(t)
	wantDecoded(t, path)
	const last = " WHERE id = (SELECT max(id) FROM block)"
	wantFound(t, path,
		"UPDATE block SET data = CAST(substr(data, 1, 4000) || x'00' || substr(data, 4002) AS BLOB)"+last,
		"UPDATE brief SET base = base + 1"+last,
		"UPDATE brief SET data = CAST(substr(data, 1, 20) || x'00' || substr(data, 22) AS BLOB)",
		"DELETE FROM brief"+last,
		"UPDATE fold SET rule = 1",
		"UPDATE fold SET rule = 259",
		"UPDATE fold SET hash = CAST(substr(hash, 1, 31) || x'00' AS BLOB)",
		"UPDATE fold SET tree = zeroblob(8)",
	)
}

func TestPythonFindsChangesOfTheTail(t *testing.T) {
	python(t, "chain.py")
	path := filepath.Join(t.TempDir(), "AB-0147"+Extension)
	if err := os.WriteFile(path, tenCommits(t), 0o600); err != nil {
		t.Fatal(err)
	}
	wantFound(t, path,
		"UPDATE item SET body = replace(body, 'note', 'Note') WHERE seq = 6",
		"UPDATE transition SET at = at + 1 WHERE seq = 7",
		"DELETE FROM item WHERE seq = 6",
		"UPDATE channel SET name = 'dmm/ohms'",
		"UPDATE tail SET ties = ties + 1 WHERE n = 3",
		"UPDATE tail SET first = first - 1 WHERE n = 3",
		"UPDATE tail SET upto = upto + 1 WHERE n = 10",
		"UPDATE tail SET hash = substr(hash, 1, 20) WHERE n = 3",
		"UPDATE tail SET data = (SELECT data FROM tail WHERE n = 3) WHERE n = 4",
		"INSERT INTO stamp VALUES (1, 3, zeroblob(32), x'', x'', '')",
		"PRAGMA user_version = 5",
		"UPDATE tail SET rule = 2 WHERE n = 3",
		"INSERT INTO enclosure VALUES (zeroblob(32), x'00')",
	)
}

// The blocks that are kept as check values are read by Python as well.
func TestPythonReadsTheCheckValues(t *testing.T) {
	cmd := python(t, "-c", `import sys, json; sys.path.append(sys.argv[1]); import readings
for line in sys.stdin: print(json.dumps([[str(x) for x in readings.plain(r)] for r in readings.block(bytes.fromhex(line))]))`, decoder)
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

// readings.py alone gives every reading of a file, value by value.
func TestPythonDecodesEveryReadingInOneFile(t *testing.T) {
	path := oddJob(t)
	var want []string
	for _, line := range told(t, path) {
		var v []any
		if err := json.Unmarshal([]byte(line), &v); err != nil {
			t.Fatal(err)
		}
		if v[0] == "reading" {
			want = append(want, fmt.Sprint(v[5]))
		}
	}
	var got []string
	for _, line := range decoded(t, python(t, "readings.py", path)) {
		var v []any
		if err := json.Unmarshal([]byte(line), &v); err != nil {
			t.Fatal(err)
		}
		got = append(got, fmt.Sprint(v[3]))
	}
	slices.Sort(got) // it goes channel by channel
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("%d values from Python, %d from Go, not the same", len(got), len(want))
	}
}
