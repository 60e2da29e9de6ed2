package wire

import "testing"

func TestPortOf(t *testing.T) {
	list := []Port{
		{Kind: KindSerial, Name: "/dev/ttyUSB0", Stable: "/dev/serial/by-id/one", VID: "0403", PID: "6001", Serial: "A1"},
		{Kind: KindSerial, Name: "/dev/ttyUSB1", VID: "0403", PID: "6001", Serial: "A2"},
		{Kind: KindUSBTMC, Name: "/dev/usbtmc0", VID: "1AB1", PID: "0C94", Serial: "D1"},
	}
	for link, want := range map[string]string{
		"serial:/dev/ttyUSB1":          "/dev/ttyUSB1",
		"serial:/dev/serial/by-id/one": "/dev/ttyUSB0",
		"usb-serial:0403:6001:A2":      "/dev/ttyUSB1",
		"usbtmc:1AB1:0C94:D1":          "/dev/usbtmc0",
		"serial:/dev/ttyUSB7":          "",
		"usb-serial:0403:6001:A9":      "",
		"tcp:127.0.0.1:5025":           "",
	} {
		a, err := ParseAddress(link)
		if err != nil {
			t.Fatal(err)
		}
		if p, ok := PortOf(a, list); ok != (want != "") || p.Name != want && ok {
			t.Errorf("%s leads to %q, %t", link, p.Name, ok)
		}
		if a.OnNetwork() != (link == "tcp:127.0.0.1:5025") {
			t.Errorf("%s on the network: %t", link, a.OnNetwork())
		}
	}
	list[1].Serial = "A1"
	if a, _ := ParseAddress("usb-serial:0403:6001:A1"); a.VID != "" {
		if _, ok := PortOf(a, list); ok {
			t.Error("one of two was picked")
		}
	}
}
