package wire

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"
)

func TestParseAddress(t *testing.T) {
	for _, c := range []struct {
		in   string
		want Address
	}{
		{"serial:/dev/ttyUSB0", Address{Kind: "serial", Path: "/dev/ttyUSB0"}},
		{"serial:COM10?baud=19200", Address{Kind: "serial", Path: "COM10", Line: Line{Baud: 19200}}},
		{"serial:/dev/ttyS0?baud=2400&bits=7&parity=even&stop=2&terminator=cr&dtr=on&rts=off&answer=2s",
			Address{Kind: "serial", Path: "/dev/ttyS0", Line: Line{Baud: 2400, DataBits: 7, Parity: "even", StopBits: "2",
				Terminator: "CR", DTR: "on", RTS: "off", Levels: "needed", AnswerTimeout: 2 * time.Second}}},
		{"usb-serial:1a2b:3C4D:00123457", Address{Kind: "usb-serial", VID: "1A2B", PID: "3C4D", Serial: "00123457"}},
		{"usb-serial:1A2B:3C4D", Address{Kind: "usb-serial", VID: "1A2B", PID: "3C4D"}},
		{"usb-serial:1A2B:3C4D:with:colons?baud=9600", Address{Kind: "usb-serial", VID: "1A2B", PID: "3C4D", Serial: "with:colons", Line: Line{Baud: 9600}}},
		{"tcp:127.0.0.1:5025", Address{Kind: "tcp", Path: "127.0.0.1:5025"}},
		{"serial:/dev/ttyS0?handshake=RTS-CTS&pause=20ms&echo=on&bits=5",
			Address{Kind: "serial", Path: "/dev/ttyS0", Line: Line{Handshake: "rts-cts", Pause: 20 * time.Millisecond, Echo: "on", DataBits: 5}}},
		{"usbtmc:/dev/usbtmc0?answer=3s", Address{Kind: "usbtmc", Path: "/dev/usbtmc0", Line: Line{AnswerTimeout: 3 * time.Second}}},
		{"usbtmc:1a2b:3c4d:AB0147", Address{Kind: "usbtmc", VID: "1A2B", PID: "3C4D", Serial: "AB0147"}},
		{"tcp:[::1]:5025?terminator=LF", Address{Kind: "tcp", Path: "[::1]:5025", Line: Line{Terminator: "LF"}}},
	} {
		got, err := ParseAddress(c.in)
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: got %+v, %v", c.in, got, err)
		}
	}
}

func TestParseAddressRefuses(t *testing.T) {
	for in, says := range map[string]string{
		"":                                        "write serial:",
		"/dev/ttyUSB0?baud=9600":                  "did you mean serial:/dev/ttyUSB0?baud=9600?",
		"ttyACM0":                                 "did you mean serial:/dev/ttyACM0?",
		"/dev/usbtmc1":                            "did you mean usbtmc:/dev/usbtmc1?",
		"hidraw2":                                 "did you mean hid:/dev/hidraw2?",
		"com3":                                    "did you mean serial:COM3?",
		"192.168.1.20":                            "did you mean tcp:192.168.1.20:5025?",
		"192.168.1.20:5024":                       "did you mean tcp:192.168.1.20:5024?",
		"meter.lan:5025":                          "did you mean tcp:meter.lan:5025?",
		"10c4:ea80":                               "did you mean hid:10c4:ea80?",
		"1a86:7523:A1":                            "did you mean usb-serial:1a86:7523:A1?",
		"serial:/dev/a?levels=some":               "any or needed",
		"tcp:127.0.0.1:5025?levels=any":           "means nothing on tcp",
		"serial:/dev/a?baud=9600?bits=7":          "follow an &",
		"serial:/dev/a?answer=5":                  "500ms or 2s",
		"serial:":                                 "write serial:",
		"gpib:22":                                 `"gpib" is not known`,
		"tcp:127.0.0.1":                           "host:port",
		"tcp::5025":                               "host:port",
		"tcp:127.0.0.1:99999":                     "1 to 65535",
		"tcp:127.0.0.1:5025?baud=9600":            "means nothing on tcp",
		"usb-serial:1A2B":                         "VID:PID:SERIAL",
		"usb-serial:1A2:3C4D:1":                   "four hexadecimal digits",
		"usb-serial:1A2G:3C4D:1":                  "four hexadecimal digits",
		"serial:/dev/a?baud=fast":                 `baud="fast"`,
		"serial:/dev/a?baud=-1":                   "baud",
		"serial:/dev/a?bits=9":                    "7 or 8",
		"serial:/dev/a?parity=maybe":              "none, odd, even",
		"serial:/dev/a?stop=3":                    "1, 1.5 or 2",
		"serial:/dev/a?dtr=high":                  "on or off",
		"serial:/dev/a?terminator=NUL":            "LF, CRLF or CR",
		"serial:/dev/a?handshake=dtr-dsr":         "none, rts-cts or xon-xoff",
		"serial:/dev/a?handshake=rts-cts&rts=off": "moves that line by itself",
		"serial:/dev/a?echo=maybe":                "on or off",
		"serial:/dev/a?pause=1m":                  "0s to 10s",
		"serial:/dev/a?pause=-1s":                 "0s to 10s",
		"usbtmc:/dev/usbtmc0?baud=9600":           "means nothing on usbtmc",
		"usbtmc:usbtmc0":                          "VID:PID:SERIAL",
		"tcp:127.0.0.1:5025?handshake=none":       "means nothing on tcp",
		"serial:/dev/a?answer=-1s":                "positive",
		"serial:/dev/a?answer=soon":               `answer="soon"`,
		"serial:/dev/a?bauds=9600":                `"bauds" is not known`,
		"serial:/dev/a?baud=1&baud=2":             "2 times",
		"serial:/dev/a?%zz":                       "cannot read the options",
	} {
		_, err := ParseAddress(in)
		if !errors.Is(err, ErrAddress) || !strings.Contains(err.Error(), says) || strings.Count(err.Error(), "bad address") != 1 {
			t.Errorf("%q: got %v, want it to say %q", in, err, says)
		}
	}
}

// FuzzParseAddress: no text breaks it, and what it accepts names one place,
// which means the same when read again.
func FuzzParseAddress(f *testing.F) {
	for _, s := range []string{"serial:/dev/ttyUSB0?baud=9600", "usb-serial:1A2B:3C4D:1", "tcp:[::1]:5025", "serial:?", "tcp:a:1?answer=1h"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseAddress(s)
		if err != nil {
			if !errors.Is(err, ErrAddress) {
				t.Fatalf("%q: %v", s, err)
			}
			return
		}
		b, err := ParseAddress(a.Place())
		if err != nil || b.Place() != a.Place() {
			t.Fatalf("%q: place %q reads as %q, %v", s, a.Place(), b.Place(), err)
		}
	})
}

// TestWith: what is not stated stays, what is stated wins.
func TestWith(t *testing.T) {
	got := DefaultLine().With(Line{Baud: 19200, Parity: "even"}).With(Line{Parity: "odd", AnswerTimeout: time.Minute})
	want := DefaultLine()
	want.Baud, want.Parity, want.AnswerTimeout = 19200, "odd", time.Minute
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("got %+v", got)
	}
}

// TestPhrasesValidate: a phrase is one line of text.
func TestPhrasesValidate(t *testing.T) {
	if err := (Line{Opening: []string{"SYST:REM"}, Closing: []string{"SYST:LOC"}}).Validate(); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"", "A\nB", "\u00b5"} {
		if err := (Line{Opening: []string{bad}}).Validate(); !errors.Is(err, ErrAddress) {
			t.Errorf("%q: got %v", bad, err)
		}
		if err := (Line{Closing: []string{bad}}).Validate(); !errors.Is(err, ErrAddress) {
			t.Errorf("%q: got %v", bad, err)
		}
	}
	over := Line{Opening: []string{"A"}}.With(Line{Closing: []string{"B"}}).With(Line{Opening: []string{}})
	if len(over.Opening) != 0 || len(over.Closing) != 1 {
		t.Errorf("an empty list takes the phrases away, got %+v", over)
	}
}

// TestQuiet: two characters of eleven bits (start, eight data, parity, stop),
// and never less than a USB adapter's 16 ms buffer.
func TestQuiet(t *testing.T) {
	for baud, want := range map[int]time.Duration{300: 22 * time.Second / 300, 9600: 20 * time.Millisecond, 0: 20 * time.Millisecond} {
		if got := (Line{Baud: baud}).quiet(); got != want {
			t.Errorf("%d baud: %v, want %v", baud, got, want)
		}
	}
}
