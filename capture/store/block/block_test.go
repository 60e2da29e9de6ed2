package block

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
	"steadyrail/capture"
)

// same reports whether two rows are equal bit for bit.
func same(a, b Row) bool {
	bits := math.Float64bits
	x, y := a, b
	ok := bits(x.Value) == bits(y.Value) && bits(x.Resolution) == bits(y.Resolution) && bits(x.Range) == bits(y.Range)
	x.Value, x.Resolution, x.Range, y.Value, y.Resolution, y.Range = 0, 0, 0, 0, 0, 0
	return ok && x == y
}

// roundTrip codes rows, compares what comes back, and returns the block.
func roundTrip(t interface{ Fatalf(string, ...any) }, rows []Row) []byte {
	var e Encoder
	var d Decoder
	data := e.Append([]byte("before"), rows)[6:]
	if n, err := Count(data); n != len(rows) || err != nil {
		t.Fatalf("Count: %d, %v; want %d", n, err, len(rows))
	}
	got, err := d.Rows(nil, data)
	if err != nil || len(got) != len(rows) {
		t.Fatalf("Rows: %d rows and %v; want %d", len(got), err, len(rows))
	}
	points, err := d.Points(nil, data)
	if err != nil || len(points) != len(rows) {
		t.Fatalf("Points: %d points and %v; want %d", len(points), err, len(rows))
	}
	for i, r := range rows {
		if !same(got[i], r) {
			t.Fatalf("row %d came back as\n%+v, want\n%+v", i, got[i], r)
		}
		p := points[i]
		if p.At != r.At || p.Tie != r.Tie || p.Flags != r.Flags || math.Float64bits(p.Value) != math.Float64bits(r.Value) {
			t.Fatalf("point %d came back as %+v, want that of %+v", i, p, r)
		}
	}
	return data
}

// TestMix: the readings of the storage study take at most 1.06 times their
// entropy, the drift of the first hours included.
func TestMix(t *testing.T) {
	for _, m := range mixes() {
		rows := m.rows(60_000)
		parts, coded := blocks(rows)
		size := 0
		for i, part := range parts {
			roundTrip(t, part)
			size += len(coded[i])
		}
		each := float64(size) / float64(len(rows))
		t.Logf("%s: %.3f bytes a reading, %.3f times the floor", m.name, each, each/m.floor())
		if each > 1.06*m.floor() {
			t.Errorf("%s: %.3f bytes a reading, %.3f times the floor", m.name, each, each/m.floor())
		}
	}
}

// wildFloat draws any float64, the odd ones often.
func wildFloat() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.NaN(), math.Inf(1), math.Inf(-1), 5e-324, math.MaxFloat64, 5.012, 1e-4}),
		rapid.Map(rapid.Uint64(), math.Float64frombits),
	)
}

// wildRow draws any row; texts and values often belong together.
func wildRow() *rapid.Generator[Row] {
	texts := rapid.OneOf(
		rapid.SampledFrom(oddTexts),
		rapid.StringMatching(`[+-]?[0-9]{0,12}\.?[0-9]{0,8}([eE][+-]?[0-9]{1,3})?`),
		rapid.String(),
	)
	wild := rapid.Int64()
	return rapid.Custom(func(t *rapid.T) Row {
		r := Row{At: capture.Instant(wild.Draw(t, "at")), Tie: rapid.Uint32().Draw(t, "tie")}
		r.Text = texts.Draw(t, "text")
		r.Value = wildFloat().Draw(t, "value")
		if rapid.Bool().Draw(t, "of the text") {
			r.Value, _, _, _ = capture.ParseResponse(r.Text)
		}
		r.Resolution, r.Range = wildFloat().Draw(t, "resolution"), wildFloat().Draw(t, "range")
		r.Flags = capture.Flags(rapid.Uint16().Draw(t, "flags"))
		r.Measured = capture.Instant(wild.Draw(t, "measured"))
		r.HalfWidth = time.Duration(wild.Draw(t, "half"))
		r.Ordinal = rapid.Uint64().Draw(t, "ordinal")
		return r
	})
}

// TestWild: any rows come back bit for bit.
func TestWild(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kinds := rapid.SliceOfN(wildRow(), 1, 6).Draw(t, "kinds")
		n := rapid.IntRange(1, 400).Draw(t, "n")
		step := rapid.Int64().Draw(t, "step")
		rows := make([]Row, n)
		for i := range rows {
			rows[i] = kinds[rapid.IntRange(0, len(kinds)-1).Draw(t, "kind")]
			rows[i].At += capture.Instant(int64(i) * step)
		}
		roundTrip(t, rows)
	})
}

// TestWildest: rows that have nothing in common come back bit for bit.
func TestWildest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		roundTrip(t, rapid.SliceOfN(wildRow(), 1, 60).Draw(t, "rows"))
	})
}

// TestCases: every case comes back bit for bit.
func TestCases(t *testing.T) {
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			data := roundTrip(t, c.rows)
			t.Logf("%d rows in %d bytes", len(c.rows), len(data))
		})
	}
}

// TestAppend: both ways of decoding append, and scratch space left by one
// block does not show in the next.
func TestAppend(t *testing.T) {
	var e Encoder
	var d Decoder
	var rows []Row
	var points []Point
	var want []Row
	for _, c := range cases {
		var err error
		data := e.Append(nil, c.rows)
		if points, err = d.Points(points, data); err != nil {
			t.Fatal(err)
		}
		if rows, err = d.Rows(rows, data); err != nil {
			t.Fatal(err)
		}
		if kept, err := d.Rows(rows, data[:len(data)-1]); err == nil || len(kept) != len(rows) {
			t.Fatalf("%s: %d rows after an error, want the %d from before", c.name, len(kept), len(rows))
		}
		want = append(want, c.rows...)
	}
	for i := range want {
		if !same(rows[i], want[i]) || points[i].At != want[i].At {
			t.Fatalf("row %d is %+v, want %+v", i, rows[i], want[i])
		}
	}
}

// TestRowsBeyond: the encoder refuses no rows, and takes the most.
func TestRowsBeyond(t *testing.T) {
	roundTrip(t, series(MaxRows, func(i int) Row { return computed(i, float64(i)) }))
	for _, n := range []int{0, MaxRows + 1} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%d rows were taken", n)
				}
			}()
			new(Encoder).Append(nil, make([]Row, n))
		}()
	}
}
