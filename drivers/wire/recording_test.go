package wire

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const small = recordingHeader + `
# link tcp:127.0.0.1:5025

0.000000 ~
0.041210 > *IDN?
0.052337 < Simulated,Multimeter,00123457,1.0
0.060000 > *CLS
0.061002 > READ?
1.561007 ! timed out
1.700000 > EMPTY?
1.700001 <
`

func TestPlayer(t *testing.T) {
	ctx := t.Context()
	p, err := NewPlayer(strings.NewReader(small))
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Drain(ctx); err != nil {
		t.Fatal(err)
	}
	if got, err := p.Query(ctx, "*IDN?"); got != "Simulated,Multimeter,00123457,1.0" {
		t.Fatalf("%q, %v", got, err)
	}
	if err := p.Done(); !errors.Is(err, ErrRecording) || !strings.Contains(err.Error(), "row 7 ") {
		t.Fatalf("not used up, but %v", err)
	}
	if err := p.Send(ctx, "*CLS"); err != nil {
		t.Fatal(err)
	}
	if _, err := p.Query(ctx, "READ?"); !errors.Is(err, ErrTimeout) {
		t.Fatal(err)
	}
	if got, err := p.Query(ctx, "EMPTY?"); got != "" || err != nil {
		t.Fatalf("%q, %v", got, err)
	}
	if err := p.Done(); err != nil {
		t.Fatal(err)
	}
	if err := p.Send(ctx, "*CLS"); !errors.Is(err, ErrRecording) || !strings.Contains(err.Error(), "used up") {
		t.Fatal(err)
	}
}

// TestPlayerMismatch: anything but the recorded call is told with its row.
func TestPlayerMismatch(t *testing.T) {
	ask := func(q string) func(*Player) error {
		return func(p *Player) error { _, err := p.Query(context.Background(), q); return err }
	}
	tell := func(q string) func(*Player) error {
		return func(p *Player) error { return p.Send(context.Background(), q) }
	}
	for _, c := range []struct {
		rows string
		call func(*Player) error
		says string
	}{
		{"0.000000 > A?\n0.000000 < 1", ask("B?"), `row 2: recorded is "> A?", now comes "> B?"`},
		{"0.000000 ~", ask("A?"), `recorded is "~ "`},
		{"0.000000 > A", ask("A"), "sent without an answer"},
		{"0.000000 > A?\n0.000000 < 1", tell("A?"), "row 3: \"A?\" was answered"},
		{"0.000000 > A", func(p *Player) error { return p.Drain(context.Background()) }, `now comes "~ "`},
	} {
		p, err := NewPlayer(strings.NewReader(recordingHeader + "\n" + c.rows))
		if err != nil {
			t.Fatal(err)
		}
		if err := c.call(p); !errors.Is(err, ErrRecording) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: got %v, want it to say %q", c.rows, err, c.says)
		}
	}
}

func TestRecordingRefuses(t *testing.T) {
	for row, says := range map[string]string{
		"soon > A":            "no time",
		"1 > A":               "no time",
		"1.5 > A":             "no time",
		"-1.000000 > A":       "no time",
		"0.000000":            "no mark",
		"0.000000 ? A":        "begins with one of",
		"0.000000 >A":         "space behind the mark",
		"0.000000 ~ A":        "nothing may stand behind",
		"0.000000 ! tired":    "not the name of an error",
		"0.000000 < 1":        "must follow what was sent",
		"0.000000 > A\x01":    "not printable",
		"0.000000 > A\u00b5?": "not printable",
	} {
		_, err := NewPlayer(strings.NewReader(recordingHeader + "\n\n" + row + "\n"))
		if !errors.Is(err, ErrRecording) || !strings.Contains(err.Error(), says) || !strings.Contains(err.Error(), "row 3") {
			t.Errorf("%q: got %v, want row 3 and %q", row, err, says)
		}
	}
	for text, says := range map[string]string{"": "empty file", "something else\n": "row 1"} {
		if _, err := NewPlayer(strings.NewReader(text)); !errors.Is(err, ErrRecording) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: got %v", text, err)
		}
	}
}

// fakeLink answers from a list, errors among it.
type fakeLink struct{ answers []any }

func (f *fakeLink) next() (string, error) {
	if len(f.answers) == 0 {
		return "", ErrTimeout
	}
	a := f.answers[0]
	f.answers = f.answers[1:]
	if err, bad := a.(error); bad {
		return "", err
	}
	return a.(string), nil
}

func (f *fakeLink) Query(context.Context, string) (string, error) { return f.next() }
func (f *fakeLink) Exchange(context.Context, []byte, Split) ([]byte, error) {
	text, err := f.next()
	return []byte(text), err
}
func (f *fakeLink) Send(context.Context, string) error { return nil }
func (f *fakeLink) Drain(context.Context) error        { return nil }
func (f *fakeLink) Close() error                       { return nil }

// TestRecordAndPlay: whatever goes over a link and is recorded comes back from
// the recording, answer by answer and error by error.
func TestRecordAndPlay(t *testing.T) {
	printable := rapid.StringMatching(`[ -~]{0,40}`)
	rapid.Check(t, func(t *rapid.T) {
		ctx := context.Background()
		link := &fakeLink{}
		var file bytes.Buffer
		r := NewRecorder(link, &file)
		now := time.Duration(0)
		r.since = func() time.Duration {
			now += time.Duration(rapid.Int64Range(0, 1e10).Draw(t, "time"))
			return now
		}
		var again []func(*Player)
		for range rapid.IntRange(0, 20).Draw(t, "exchanges") {
			request := printable.Draw(t, "request")
			switch rapid.IntRange(0, 5).Draw(t, "kind") {
			case 4:
				out := rapid.SliceOfN(rapid.Byte(), 0, 20).Draw(t, "bytes out")
				in := rapid.SliceOfN(rapid.Byte(), 1, 20).Draw(t, "bytes in")
				link.answers = append(link.answers, string(in))
				_, _ = r.Exchange(ctx, out, everything)
				again = append(again, func(p *Player) {
					if got, err := p.Exchange(ctx, out, everything); !bytes.Equal(got, in) || err != nil {
						t.Fatalf("% x: % x, %v", out, got, err)
					}
				})
			case 5:
				out := rapid.SliceOfN(rapid.Byte(), 0, 20).Draw(t, "bytes out")
				fault := rapid.SampledFrom(faults).Draw(t, "fault")
				link.answers = append(link.answers, fmt.Errorf("somewhere: %w", fault))
				_, _ = r.Exchange(ctx, out, everything)
				again = append(again, func(p *Player) {
					if _, err := p.Exchange(ctx, out, everything); !errors.Is(err, fault) {
						t.Fatalf("% x: %v", out, err)
					}
				})
			case 0:
				_ = r.Send(ctx, request)
				again = append(again, func(p *Player) {
					if err := p.Send(ctx, request); err != nil {
						t.Fatal(err)
					}
				})
			case 1:
				_ = r.Drain(ctx)
				again = append(again, func(p *Player) {
					if err := p.Drain(ctx); err != nil {
						t.Fatal(err)
					}
				})
			case 2:
				answer := printable.Draw(t, "answer")
				link.answers = append(link.answers, answer)
				_, _ = r.Query(ctx, request)
				again = append(again, func(p *Player) {
					if got, err := p.Query(ctx, request); got != answer || err != nil {
						t.Fatalf("%q: %q, %v", request, got, err)
					}
				})
			case 3:
				fault := rapid.SampledFrom(faults).Draw(t, "fault")
				link.answers = append(link.answers, fmt.Errorf("somewhere: %w", fault))
				_, _ = r.Query(ctx, request)
				again = append(again, func(p *Player) {
					if _, err := p.Query(ctx, request); !errors.Is(err, fault) {
						t.Fatalf("%q: %v", request, err)
					}
				})
			}
		}
		if r.Err() != nil {
			t.Fatal(r.Err())
		}
		p, err := NewPlayer(&file)
		if err != nil {
			t.Fatalf("%v\n%s", err, file.String())
		}
		for _, f := range again {
			f(p)
		}
		if err := p.Done(); err != nil {
			t.Fatal(err)
		}
	})
}

func everything(b []byte) (int, int) { return 0, len(b) }

// TestPlayBytes: the rows of an exchange of bytes, spaced or not, and what is
// told when another one comes.
func TestPlayBytes(t *testing.T) {
	const rows = recordingHeader + `
0.000000 ] 01 03 00 00 00 01 84 0A
0.010000 [ 010302000578 47
0.020000 ]
0.030000 [ 7e 00
0.040000 ] ff
0.050000 ! timed out
`
	exchange := func(p *Player, request []byte, split Split) ([]byte, error) { return p.Exchange(bg, request, split) }
	p, err := NewPlayer(strings.NewReader(rows))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		request, want []byte
		split         Split
		err           error
		says          string
	}{
		{[]byte{1, 3}, nil, everything, ErrRecording, `row 2: recorded is "] 01 03 00 00 00 01 84 0A", now comes "] 01 03"`},
		{[]byte{1, 3, 0, 0, 0, 1, 0x84, 0x0a}, []byte{1, 3, 2, 0, 5, 0x78, 0x47}, everything, nil, ""},
		{nil, []byte{0x7e, 0}, everything, nil, ""},
		{[]byte{0xff}, nil, everything, ErrTimeout, ""},
		{[]byte{0xff}, nil, everything, ErrRecording, "used up"},
	} {
		got, err := exchange(p, c.request, c.split)
		if !bytes.Equal(got, c.want) || !errors.Is(err, c.err) || (err != nil && !strings.Contains(err.Error(), c.says)) {
			t.Errorf("% x: got % x, %v", c.request, got, err)
		}
	}
	p, err = NewPlayer(strings.NewReader(rows))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := exchange(p, []byte{1, 3, 0, 0, 0, 1, 0x84, 0x0a}, splitTest); !errors.Is(err, ErrRecording) || !strings.Contains(err.Error(), "row 3") {
		t.Errorf("a frame that is none was played: %v", err)
	}
	for row, says := range map[string]string{
		"0.000000 ] 0":                       "not hexadecimal",
		"0.000000 ] 0x01":                    "not hexadecimal",
		"0.000000 [ 01":                      "must follow what was sent",
		"0.000000 ] 01\n0.000000 > A":        "must be followed by",
		"0.000000 ] 01\n0.000000 < A":        "must be followed by",
		"0.000000 > A\n0.000000 [ 01":        "must follow what was sent",
		"0.000000 ] 01\n0.000000 ] 02":       "must be followed by",
		"0.000000 ] 01\n0.000000 ! no named": "not the name of an error",
	} {
		if _, err := NewPlayer(strings.NewReader(recordingHeader + "\n" + row + "\n")); !errors.Is(err, ErrRecording) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: got %v, want %q", row, err, says)
		}
	}
	// A recording that ends behind what was sent: whoever plays it is told.
	p, err = NewPlayer(strings.NewReader(recordingHeader + "\n0.000000 ] 01\n"))
	if err == nil {
		_, err = exchange(p, []byte{1}, everything)
	}
	if !errors.Is(err, ErrRecording) {
		t.Errorf("the answer is missing: got %v", err)
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

// TestRecorderOnFullDisk: measuring goes on.
func TestRecorderOnFullDisk(t *testing.T) {
	r := NewRecorder(&fakeLink{answers: []any{"1"}}, fullDisk{})
	if got, err := r.Query(t.Context(), "A?"); got != "1" || err != nil {
		t.Fatalf("%q, %v", got, err)
	}
	if !errors.Is(r.Err(), io.ErrShortWrite) {
		t.Fatalf("got %v", r.Err())
	}
}

// FuzzRecording: no file breaks the parser, and what it accepts prints to what
// it accepts as the same.
func FuzzRecording(f *testing.F) {
	f.Add(small)
	f.Add(recordingHeader)
	f.Add(recordingHeader + "\n0.000000 > A\n0.000000 ! gone\n")
	f.Add(recordingHeader + "\n0.000000 ] 01 fF\n0.000000 [ 7e\n0.000000 ]\n0.000000 ! timed out\n")
	f.Add(recordingHeader + "\r\n0.000000 ~\r\n")
	f.Fuzz(func(t *testing.T, text string) {
		events, err := parseRecording(strings.NewReader(text))
		if err != nil {
			if !errors.Is(err, ErrRecording) {
				t.Fatal(err)
			}
			return
		}
		var again strings.Builder
		again.WriteString(recordingHeader + "\n")
		for _, e := range events {
			fmt.Fprintln(&again, e)
		}
		second, err := parseRecording(strings.NewReader(again.String()))
		if err != nil || len(second) != len(events) {
			t.Fatalf("%v: %d events, then %d\n%s", err, len(events), len(second), again.String())
		}
		for i := range events {
			events[i].row, second[i].row = 0, 0
			if events[i] != second[i] {
				t.Fatalf("%v became %v", events[i], second[i])
			}
		}
	})
}
