package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"steadyrail/capture"
)

var update = flag.Bool("update", false, "write the golden drawings anew")

func drawn(t *testing.T, draw func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := draw(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func railOf(t *testing.T, m RailModel) string {
	t.Helper()
	return drawn(t, func(w io.Writer) error { return Rail(w, m) })
}

// drawings are the shapes that a drawing can take, each with a golden file.
func drawings() map[string]func(io.Writer) error {
	oneSided := capture.Rail{Name: "+24 V in", Nominal: 24, Target: 24, Bounds: capture.Bounds{Low: 22, High: math.Inf(1)}}
	few := RailModel{Rail: plus5, Resolution: .001, Zone: berlin}
	for i, v := range []float64{5.010, 5.013, 5.020, 4.870, 5.011} {
		at := start.Add(time.Duration(i) * 20 * time.Second)
		few.Series = append(few.Series, capture.Bucket{From: at, To: at, N: 1, Min: v, Max: v, Mean: v, Last: v})
	}
	few.Series[2] = capture.Bucket{From: few.Series[2].From, To: few.Series[2].To, Bad: 1}
	phone := nightModel(plus5)
	phone.Width, phone.Below = 360, nil
	open := nightModel(oneSided)
	open.Series = nil
	for t := start; t < end; t = t.Add(5 * time.Minute) {
		open.Series = append(open.Series, capture.Bucket{From: t, To: t.Add(5 * time.Minute), N: 10, Min: 23.8, Max: 24.2, Mean: 24})
	}
	short := func(m RailModel) func(io.Writer) error {
		// Golden drawings stay readable: every twentieth bucket, but the fall.
		var s []capture.Bucket
		for i, b := range m.Series {
			if i%20 == 0 || fall >= b.From && fall < b.To || len(m.Series) < 100 {
				s = append(s, b)
			}
		}
		m.Series, m.Every = s, 5*time.Minute
		if len(m.Below) > 0 {
			m.Below[0].Series = m.Below[0].Series[:len(m.Below[0].Series):len(m.Below[0].Series)]
			var w []capture.Bucket
			for i := 0; i < len(m.Below[0].Series); i += 20 {
				w = append(w, m.Below[0].Series[i])
			}
			m.Below[0].Series = w
		}
		m.Gaps = []capture.Gap{{From: asleep, To: awake, Reason: "meter asleep"}}
		return func(w io.Writer) error { return Rail(w, m) }
	}
	return map[string]func(io.Writer) error{
		"night":    short(nightModel(plus5)),
		"negative": short(nightModel(minus12)),
		"phone":    short(phone),
		"onesided": short(open),
		"few":      func(w io.Writer) error { return Rail(w, few) },
		"empty":    func(w io.Writer) error { return Rail(w, RailModel{Rail: plus5, From: start, To: end}) },
		"trace":    func(w io.Writer) error { return Trace(w, TraceModel{Rail: plus5, Series: few.Series}) },
		"fall": func(w io.Writer) error {
			return Event(w, EventModel{Rail: plus5, Points: fallPoints(1), Resolution: .001, Zone: berlin})
		},
		"fall-negative": func(w io.Writer) error {
			return Event(w, EventModel{Rail: minus12, Points: fallPoints(-2.4), Resolution: .01, Zone: berlin})
		},
	}
}

func TestGolden(t *testing.T) {
	for name, draw := range drawings() {
		t.Run(name, func(t *testing.T) {
			got := drawn(t, draw)
			if again := drawn(t, draw); again != got {
				t.Fatal("the same model gave two drawings")
			}
			wellFormed(t, got)
			// One element a line, so that a difference can be read.
			got = strings.ReplaceAll(got, "><", ">\n<") + "\n"
			path := filepath.Join("../../testdata/golden/chart", name+".svg")
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("%s differs from the golden drawing; look at it, then run with -update", path)
			}
		})
	}
}

func wellFormed(t *testing.T, svg string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	ids := map[string]bool{}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
		if el, ok := tok.(xml.StartElement); ok {
			for _, a := range el.Attr {
				if a.Name.Local == "id" && ids[a.Value] {
					t.Errorf("id %s stands twice", a.Value)
				} else if a.Name.Local == "id" {
					ids[a.Value] = true
				}
			}
		}
	}
}

func TestTextIsEscaped(t *testing.T) {
	evil := `<script>alert("1")</script>&'`
	m := nightModel(plus5)
	m.Rail.Name, m.ID, m.Title = evil, evil, evil
	m.Marks[2].Word, m.Below[0].Name = evil, evil
	m.Gaps = []capture.Gap{{From: asleep, To: awake, Reason: evil}}
	got := railOf(t, m)
	got += drawn(t, func(w io.Writer) error {
		return Event(w, EventModel{ID: evil, Title: evil, Rail: m.Rail, Points: fallPoints(1)})
	})
	if strings.Contains(got, "<script") || strings.Contains(got, `alert("`) {
		t.Error("text reached the drawing unescaped")
	}
}

func TestWhatLeavesKeepsItsFigure(t *testing.T) {
	if got := railOf(t, nightModel(plus5)); !strings.Contains(got, ">down to 3.087 V<") {
		t.Error("no figure for the fall that was cut")
	}
	if got := railOf(t, nightModel(minus12)); !strings.Contains(got, ">down to −7.410 V<") {
		t.Error("a collapse of a negative rail must go down, with its sign")
	}
}

func TestBandOwnsTheMiddle(t *testing.T) {
	b := bandOf(plus5)
	lo, hi := b.frame()
	if math.Abs(lo-4.81) > 1e-9 || math.Abs(hi-5.19) > 1e-9 {
		t.Errorf("frame %g to %g, want target ± 1.9 half bands", lo, hi)
	}
	n := bandOf(minus12)
	if n.low != 11.4 || n.high != 12.6 || n.figure(n.low) != "−11.40" {
		t.Errorf("negative rail by magnitude: %+v", n)
	}
}

func TestNoLineCrossesAHole(t *testing.T) {
	tests := map[string]struct {
		change func([]capture.Bucket) []capture.Bucket
		gaps   []capture.Gap
		runs   int
	}{
		"whole":    {func(b []capture.Bucket) []capture.Bucket { return b }, nil, 1},
		"dithered": {func(b []capture.Bucket) []capture.Bucket { return append(b[:10:10], b[11:]...) }, nil, 1},
		"silence":  {func(b []capture.Bucket) []capture.Bucket { return append(b[:10:10], b[15:]...) }, nil, 2},
		"failed poll": {func(b []capture.Bucket) []capture.Bucket {
			b[10] = capture.Bucket{From: b[10].From, To: b[10].To, Bad: 1}
			return b
		}, nil, 2},
		"empty buckets": {func(b []capture.Bucket) []capture.Bucket { b[10].N = 0; return b }, nil, 1},
		"no number":     {func(b []capture.Bucket) []capture.Bucket { b[10].Mean = math.NaN(); return b }, nil, 1},
		"known gap":     {func(b []capture.Bucket) []capture.Bucket { return b }, []capture.Gap{{From: start.Add(100 * time.Second), To: start.Add(101 * time.Second)}}, 2},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			var s []capture.Bucket
			for i := range 40 {
				at := start.Add(time.Duration(i) * 10 * time.Second)
				s = append(s, capture.Bucket{From: at, To: at.Add(10 * time.Second), N: 1, Min: 5, Max: 5, Mean: 5})
			}
			s = tt.change(s)
			runs, holes := split(s, 1, 0, tt.gaps)
			if len(runs) != tt.runs || len(holes) != tt.runs-1 {
				t.Errorf("%d runs and %d holes, want %d and %d", len(runs), len(holes), tt.runs, tt.runs-1)
			}
			got := railOf(t, RailModel{Rail: plus5, Series: s, Gaps: tt.gaps})
			if hatched := strings.Count(got, "c-blind"); hatched != tt.runs-1 {
				t.Errorf("%d hatched stretches, want %d", hatched, tt.runs-1)
			}
		})
	}
}

func TestFewReadingsAreDots(t *testing.T) {
	got := drawn(t, drawings()["few"])
	if n := strings.Count(got, "<circle"); n != 4 {
		t.Errorf("%d dots for four good readings", n)
	}
	if strings.Contains(got, "c-env") || regexp.MustCompile(`d="[^"]*[CQS]`).MatchString(got) {
		t.Error("few readings are joined by straight lines and shaded by nothing")
	}
	if !strings.Contains(got, `class="c-dot out"`) {
		t.Error("a reading outside the band must look so")
	}
}

// However many things happen at once, no label lies on another or on a mark,
// and no mark is lost.
func TestLabelsNeverCollide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := &frame{width: 960, left: 60, right: 890, from: 0, to: 1e6, text: 13, k: 1}
		marks := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Mark {
			return Mark{At: capture.Instant(rapid.Int64Range(0, 1e6).Draw(t, "at")), Kind: MarkKind(rapid.IntRange(0, 1).Draw(t, "kind")), Word: rapid.StringN(0, 30, 60).Draw(t, "word")}
		}), 0, 30).Draw(t, "marks")
		placed := arrange(f, marks, 10)
		if len(placed) != len(marks) {
			t.Fatalf("%d marks of %d", len(placed), len(marks))
		}
		for i, a := range placed {
			for j, b := range placed {
				if i == j || a.anchor == "" {
					continue
				}
				if b.anchor != "" && a.words.x1 < b.words.x2 && b.words.x1 < a.words.x2 {
					t.Fatalf("%q lies on %q", a.Word, b.Word)
				}
				if a.words.x1 < b.x+9 && b.x-9 < a.words.x2 {
					t.Fatalf("%q lies on a mark", a.Word)
				}
			}
		}
	})
}

func TestTicksKeepTheZone(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip("no time zone data on this machine")
	}
	// Clocks went from 2:00 to 3:00 on 31 March 2030 in that zone (last Sunday of March).
	from := time.Date(2030, 3, 30, 20, 10, 0, 0, zone)
	to := from.Add(16 * time.Hour)
	for _, every := range []time.Duration{time.Hour, 4 * time.Hour} {
		for _, k := range ticks(capture.InstantOf(from), capture.InstantOf(to), every, zone) {
			at := k.at.Time().In(zone)
			if at.Minute() != 0 || every == 4*time.Hour && at.Hour()%4 != 0 {
				t.Errorf("tick at %s", at)
			}
			if at.Hour() == 0 && k.label != "31 Mar" {
				t.Errorf("midnight says %q", k.label)
			}
		}
	}
	half := time.FixedZone("half", 5*3600+1800)
	for _, k := range ticks(start, end, time.Hour, half) {
		if !strings.HasSuffix(k.label, ":00") && !k.day {
			t.Errorf("tick label %q in a half-hour zone", k.label)
		}
	}
}

// Whatever comes, the drawing is well formed, ends, and holds no wild numbers.
func TestAnySeriesDraws(t *testing.T) {
	number := regexp.MustCompile(`-?\d+\.?\d*`)
	rapid.Check(t, func(t *rapid.T) {
		var s []capture.Bucket
		at := start
		for range rapid.IntRange(0, 60).Draw(t, "n") {
			v := rapid.Float64().Draw(t, "v")
			at = at.Add(time.Duration(rapid.Int64Range(0, 1e12).Draw(t, "step")))
			s = append(s, capture.Bucket{From: at, To: at, N: rapid.IntRange(0, 2).Draw(t, "k"), Bad: rapid.IntRange(0, 1).Draw(t, "bad"), Min: v, Max: v, Mean: v})
		}
		r := rapid.SampledFrom([]capture.Rail{plus5, minus12, {Name: "bare", Nominal: 3}, {}}).Draw(t, "rail")
		var b bytes.Buffer
		if err := Rail(&b, RailModel{Rail: r, Series: s, Below: []Strip{{Quantity: capture.Temperature, Series: s}}}); err != nil {
			t.Fatal(err)
		}
		if err := Trace(&b, TraceModel{Rail: r, Series: s}); err != nil {
			t.Fatal(err)
		}
		body := regexp.MustCompile(`(?s)<(title|desc|text)[^>]*>.*?</(title|desc|text)>`).ReplaceAllString(b.String(), "")
		if strings.Contains(body, "NaN") || strings.Contains(body, "Inf") {
			t.Fatal("a coordinate is no number")
		}
		for _, n := range number.FindAllString(body, -1) {
			if v, _ := strconv.ParseFloat(n, 64); math.Abs(v) > 99999 {
				t.Fatalf("coordinate %s", n)
			}
		}
	})
}

func TestWriterErrorIsReturned(t *testing.T) {
	if err := Rail(broken{}, nightModel(plus5)); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("got %v", err)
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

func BenchmarkNight(b *testing.B) {
	m := nightModel(plus5)
	for b.Loop() {
		_ = Rail(io.Discard, m)
	}
}
