package wire

import (
	"errors"
	"strings"
	"testing"
)

func TestPickUSB(t *testing.T) {
	list := []Port{
		{Name: "a", VID: "1A2B", PID: "3C4D", Serial: "1"},
		{Name: "b", VID: "1A2B", PID: "3C4D", Serial: "2"},
		{Name: "c", VID: "1A2B", PID: "3C4D", Serial: "2"},
		{Name: "d", VID: "AAAA", PID: "BBBB"},
		{Name: "e"},
	}
	for i := range list {
		list[i].Kind = KindSerial
	}
	list = append(list, Port{Kind: KindUSBTMC, Name: "t", VID: "1A2B", PID: "3C4D", Serial: "1"},
		Port{Kind: KindHID, Name: "h", VID: "1A2B", PID: "3C4D"})
	suggest(list)
	for _, c := range []struct {
		link, name string
		err        error
		says       string
	}{
		{"usb-serial:1a2b:3c4d:1", "a", nil, ""},
		{"usb-serial:AAAA:BBBB", "d", nil, ""},
		{"usbtmc:1A2B:3C4D", "t", nil, ""}, // the same ids on a port of another kind do not count
		{"usbtmc:1A2B:3C4D:2", "", ErrNoPort, "there are: usbtmc:1A2B:3C4D:1"},
		{"usb-serial:1A2B:3C4D:2", "", ErrAddress, "2 adapters answer to that: b, c"}, // the same serial number twice
		{"usb-serial:1A2B:3C4D", "", ErrAddress, "3 adapters"},
		{"usb-serial:1A2B:3C4D:01", "", ErrNoPort, "usb-serial:1A2B:3C4D:1"}, // leading zeros count
		{"usb-serial:AAAA:BBBB:1", "", ErrNoPort, "serial:d"},
	} {
		a, err := ParseAddress(c.link)
		if err != nil {
			t.Fatal(err)
		}
		got, err := pickUSB(a, list)
		if got != c.name || !errors.Is(err, c.err) || (err != nil && !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%s: got %q, %v", c.link, got, err)
		}
	}
	if _, err := pickUSB(Address{Kind: KindUSB, VID: "0001", PID: "0002"}, nil); !errors.Is(err, ErrNoPort) {
		t.Errorf("got %v", err)
	}
}
