package export

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

// What was exported is read back as it was, in both dialects.
func TestReadBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		mark := rapid.SampledFrom([]capture.DecimalMark{capture.Point, capture.Comma}).Draw(rt, "mark")
		at := capture.Instant(rapid.Int64Range(1, 4e15).Draw(rt, "begin"))
		var records []capture.Record
		var want []Line
		for _, ch := range []capture.ChannelID{"dmm/volts", "by-eye pocket/resistance"} {
			p := capture.Placement{
				Channel: ch, Rail: rapid.SampledFrom([]string{"", "+5 V logic", "-12 V audio", "=cmd|' /C calc'!A0"}).Draw(rt, "rail"),
				Point: rapid.StringMatching(`[-+=@';", a-z]{0,8}`).Draw(rt, "point"), Hold: rapid.SampledFrom([]capture.Hold{capture.Touched, capture.Clipped}).Draw(rt, "hold"),
			}
			at++
			records = append(records, capture.Record{At: at, Item: p})
			r := capture.Reading{
				Channel: ch, Quantity: capture.DCVoltage, Value: rapid.Float64Range(-1e9, 1e9).Draw(rt, "value"), Resolution: rapid.SampledFrom([]float64{0, 1e-6, 0.001, 1}).Draw(rt, "resolution"),
				Measured: at, HalfWidth: time.Duration(rapid.Int64Range(0, 1e10).Draw(rt, "half")), Ordinal: rapid.Uint64().Draw(rt, "ordinal"),
				Flags: rapid.SampledFrom([]capture.Flags{0, capture.Typed, capture.OverRange, capture.TimedOut | capture.Held}).Draw(rt, "flags"),
				Text:  rapid.SampledFrom([]string{"+5.010000E+00", "-3", "OL", "=1+2"}).Draw(rt, "text"),
			}
			if !r.HasValue() {
				r.Value = 0
			}
			at++
			records = append(records, capture.Record{At: at, Item: r})
			if p.Rail == "" && p.Point == "" {
				p.Hold = capture.Touched // of a channel on nothing there is none
			}
			want = append(want, Line{Number: len(want) + 2, At: at, Reading: r, Placement: p})
		}
		var b bytes.Buffer
		if err := WriteCSV(&b, of(records), Options{Mark: mark, Zone: time.FixedZone("", 3600)}); err != nil {
			rt.Fatal(err)
		}
		if m, ours := IsOurs(b.String()); !ours || m != mark {
			rt.Fatalf("taken for ours: %t, %v", ours, m)
		}
		var got []Line
		if err := ReadCSV(&b, mark, func(l Line) error { got = append(got, l); return nil }); err != nil {
			rt.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			rt.Fatalf("got  %+v\nwant %+v", got, want)
		}
	})
}

func of(records []capture.Record) Records {
	return func(yield func(capture.Record, error) bool) {
		for _, r := range records {
			if !yield(r, nil) {
				return
			}
		}
	}
}

// What is not as we write it is refused by its line.
func TestReadRefuses(t *testing.T) {
	head := strings.Join(Columns(), ",") + "\r\n"
	good := "2031-03-12T08:00:00.000001+00:00,,0,dmm/volts,+5 V logic,,touched,dc_voltage,5,5.000,V,0.001,,1\r\n"
	for name, c := range map[string]struct{ file, says string }{
		"twice the same instant": {head + good + good, "line 3: it was answered before"},
		"no time":                {head + strings.Replace(good, "2031-03-12T08:00:00.000001+00:00", "", 1), "line 2: it does not say when"},
		"a time of another form": {head + strings.Replace(good, "2031-03-12T08", "12.3.2031 08", 1), "column answered"},
		"another unit":           {head + strings.Replace(good, ",V,", ",mV,", 1), "is in V"},
		"another quantity":       {head + strings.Replace(good, "dc_voltage", "pressure", 1), "column quantity"},
		"no value":               {head + strings.Replace(good, ",5,5.000,", ",,5.000,", 1), "it has no value"},
		"a flag nobody knows":    {head + strings.Replace(good, "0.001,,", "0.001,odd,", 1), "odd"},
		"cells missing":          {head + "a,b\r\n", "wrong number of fields"},
	} {
		err := ReadCSV(strings.NewReader(c.file), capture.Point, func(Line) error { return nil })
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
	}
	stop := errors.New("enough")
	if err := ReadCSV(strings.NewReader(head+good), capture.Point, func(Line) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("the caller's error: %v", err)
	}
	for _, s := range []string{"", "Time,CH1", strings.ToUpper(head), head[1:]} {
		if _, ours := IsOurs(s); ours {
			t.Errorf("%q is taken for ours", s)
		}
	}
}

func FuzzReadCSV(f *testing.F) {
	head := strings.Join(Columns(), ",") + "\r\n"
	f.Add(head+"2031-03-12T08:00:00.000001+00:00,,0,dmm/volts,+5 V logic,,touched,dc_voltage,5,5.000,V,0.001,,1\r\n", false)
	f.Add(strings.ReplaceAll(head, ",", ";"), true)
	f.Fuzz(func(t *testing.T, file string, comma bool) {
		mark := capture.Point
		if comma {
			mark = capture.Comma
		}
		last := capture.Instant(0)
		_ = ReadCSV(strings.NewReader(file), mark, func(l Line) error {
			if last != 0 && l.At <= last || l.Reading.Channel == "" {
				t.Errorf("%+v after %d", l, last)
			}
			last = l.At
			return nil
		})
	})
}
