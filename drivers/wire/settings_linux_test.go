package wire

import (
	"errors"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// TestRefusedSettings: a pseudo-terminal does eight bits without parity and
// nothing else (the kernel's pty.c says so), has no control lines, and so
// stands for an adapter that takes what it likes.
func TestRefusedSettings(t *testing.T) {
	for _, c := range []struct {
		line Line
		says []string
	}{
		{Line{DataBits: 7}, []string{"7 data bits"}},
		{Line{DataBits: 5}, []string{"5 data bits"}},
		{Line{Parity: "even"}, []string{"even parity"}},
		{Line{Parity: "mark", DataBits: 7}, []string{"7 data bits, mark parity"}},
		{Line{StopBits: "1.5"}, []string{"1.5 stop bits", "1 and 2"}},
		{Line{DTR: "off"}, []string{"no such lines"}},
		{Line{RTS: "off"}, []string{"no such lines", "they were asked for", "?levels=any"}},
		{Line{DTR: "on", Levels: "needed"}, []string{"no such lines"}},
		{Line{RTS: "off", Levels: "needed", LevelsFor: "the cable lives on them"}, []string{"they are needed: the cable lives on them", "?levels=any"}},
	} {
		f := plug(t, nil)
		_, err := Open(bg, Address{Kind: KindSerial, Path: f.device}, quick().With(c.line))
		if !errors.Is(err, ErrSettings) {
			t.Errorf("%+v: got %v", c.line, err)
			continue
		}
		for _, says := range append(c.says, f.device, "adapter does not take") {
			if !strings.Contains(err.Error(), says) {
				t.Errorf("%v: does not say %q", err, says)
			}
		}
	}
}

// TestSettingsAreMade reads back, from a third descriptor, what the port does.
func TestSettingsAreMade(t *testing.T) {
	for _, c := range []struct {
		line        Line
		crtscts     bool
		ixon, stop2 bool
		baud        uint32
	}{
		{Line{}, false, false, false, 9600},
		{Line{Handshake: "rts-cts", StopBits: "2", Baud: 19200}, true, false, true, 19200},
		{Line{Handshake: "xon-xoff", Baud: 250000}, false, true, false, 250000}, // a rate that has no name
	} {
		f := plug(t, write("1\n"))
		conn := openTest(t, f.device, quick().With(c.line))
		is, err := unix.IoctlGetTermios(int(f.slave.Fd()), unix.TCGETS2)
		if err != nil {
			t.Fatal(err)
		}
		if (is.Cflag&unix.CRTSCTS != 0) != c.crtscts || (is.Iflag&unix.IXON != 0) != c.ixon || (is.Iflag&unix.IXOFF != 0) != c.ixon ||
			(is.Cflag&unix.CSTOPB != 0) != c.stop2 || is.Ospeed != c.baud {
			t.Errorf("%+v: it is %+v", c.line, is)
		}
		if got, err := conn.Query(bg, "A?"); got != "1" {
			t.Errorf("%+v: %q, %v", c.line, got, err)
		}
	}
}

// TestSettingsLeaveNothingOpen: the second descriptor is closed again, also
// when opening fails.
func TestSettingsLeaveNothingOpen(t *testing.T) {
	f := plug(t, nil)
	before := openFiles(t)
	for range 3 {
		if _, err := Open(bg, Address{Kind: KindSerial, Path: f.device}, Line{DataBits: 7}); err == nil {
			t.Fatal("opened")
		}
	}
	if after := openFiles(t); after != before {
		t.Fatalf("%d descriptors open, %d before", after, before)
	}
}

// TestDiffers goes through every setting that a port may not do; the asked ones
// are 7 even 2 at 9600.
func TestDiffers(t *testing.T) {
	asked := Line{DataBits: 7, Parity: "even", StopBits: "2", Baud: 9600, Handshake: "rts-cts"}
	does := unix.Termios{Cflag: unix.CS7 | unix.PARENB | unix.CSTOPB | unix.CRTSCTS, Ospeed: 9600}
	if got := differs(&does, asked); len(got) != 0 {
		t.Fatalf("got %q", got)
	}
	for says, change := range map[string]func(*unix.Termios){
		"7 data bits":             func(t *unix.Termios) { t.Cflag = t.Cflag&^unix.CSIZE | unix.CS8 },
		"even parity":             func(t *unix.Termios) { t.Cflag |= unix.PARODD },
		"2 stop bits":             func(t *unix.Termios) { t.Cflag &^= unix.CSTOPB },
		"the handshake rts-cts":   func(t *unix.Termios) { t.Cflag &^= unix.CRTSCTS },
		"9600 baud (it set 9900)": func(t *unix.Termios) { t.Ospeed = 9900 },
	} {
		is := does
		change(&is)
		if got := differs(&is, asked); len(got) != 1 || got[0] != says {
			t.Errorf("want %q, got %q", says, got)
		}
	}
	does.Ospeed = 9615 // what a divider of 1 MHz makes of it
	if got := differs(&does, asked); len(got) != 0 {
		t.Errorf("got %q", got)
	}
}

// TestWishedLevels: levels that are only wished for do not keep a port from being
// used, and what it does not do is told. What a link says wins over a model.
func TestWishedLevels(t *testing.T) {
	for _, c := range []struct {
		line  Line
		unset string
	}{
		{Line{}, ""},
		{Line{DTR: "on", RTS: "off", Levels: "any"}, "a level of DTR or RTS (it has no such lines)"},
		{Line{DTR: "on", RTS: "on", Levels: "any"}, "a level of DTR or RTS (it has no such lines)"},
	} {
		f := plug(t, write("1\n"))
		conn := openTest(t, f.device, quick().With(c.line))
		if conn.Unset() != c.unset {
			t.Errorf("%+v: unset %q, want %q", c.line, conn.Unset(), c.unset)
		}
		if got, err := conn.Query(bg, "A?"); got != "1" {
			t.Errorf("%+v: %q, %v", c.line, got, err)
		}
	}
	needs := Line{DTR: "on", RTS: "off", Levels: "needed", LevelsFor: "power"}
	for link, fails := range map[string]bool{"": true, "?levels=needed": true, "?levels=any": false, "?rts=on": true, "?rts=on&levels=any": false} {
		f := plug(t, nil)
		a, err := ParseAddress("serial:" + f.device + link)
		if err != nil {
			t.Fatal(err)
		}
		conn, err := Open(bg, a, quick().With(needs))
		if errors.Is(err, ErrSettings) != fails || err != nil && !fails {
			t.Errorf("%s: %v", link, err)
		}
		if err == nil {
			conn.Close()
		}
	}
}

// TestUnlike reads the bits that an adapter with control lines tells.
func TestUnlike(t *testing.T) {
	const both = unix.TIOCM_DTR | unix.TIOCM_RTS
	for _, c := range []struct {
		is   int
		line Line
		want string
	}{
		{unix.TIOCM_DTR, Line{DTR: "on", RTS: "off"}, ""},
		{both, Line{DTR: "on", RTS: "off"}, "RTS off"},
		{0, Line{DTR: "on", RTS: "off"}, "DTR on"},
		{unix.TIOCM_RTS, Line{DTR: "on", RTS: "off"}, "DTR on, RTS off"},
		{both, Line{DTR: "off", RTS: "off"}, "DTR off, RTS off"},
		{0, Line{DTR: "off", RTS: "on", Handshake: "rts-cts"}, ""}, // the handshake moves it
		{0, Line{RTS: "off"}, ""},
		{unix.TIOCM_CTS, Line{DTR: "off", RTS: "off"}, ""},
	} {
		if got := unlike(c.is, c.line); got != c.want {
			t.Errorf("%b %+v: %q, want %q", c.is, c.line, got, c.want)
		}
	}
}
