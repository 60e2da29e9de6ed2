package wire

import (
	"net"
	"regexp"
	"slices"
	"strings"
)

var (
	deviceName = regexp.MustCompile(`^(tty|cu\.|usbtmc|hidraw)[A-Za-z0-9.-]*$`)
	comName    = regexp.MustCompile(`^(?i:COM)[0-9]+$`)
	usbIDs     = regexp.MustCompile(`^[0-9A-Fa-f]{4}:[0-9A-Fa-f]{4}(:|$)`)
)

// meant guesses the link that somebody wrote without its kind: a device file, a
// COM port, ids, a host. Empty: nothing comes to mind.
func meant(s string) string {
	where, options, _ := strings.Cut(s, "?")
	if options != "" {
		options = "?" + options
	}
	host, port, err := net.SplitHostPort(where)
	switch {
	case strings.HasPrefix(where, "/dev/"):
		return kindOfDevice(where) + ":" + s
	case deviceName.MatchString(where):
		return kindOfDevice(where) + ":/dev/" + s
	case comName.MatchString(where):
		return KindSerial + ":" + strings.ToUpper(where) + options
	case usbIDs.MatchString(where) && isBridgeID(where[:9]):
		return KindHID + ":" + s
	case usbIDs.MatchString(where):
		return KindUSB + ":" + s
	case net.ParseIP(where) != nil:
		return KindTCP + ":" + net.JoinHostPort(where, "5025") + options
	case err == nil && net.ParseIP(host) != nil, err == nil && strings.ContainsAny(host, ".") && port != "":
		return KindTCP + ":" + s
	}
	return ""
}

func isBridgeID(ids string) bool {
	return slices.ContainsFunc(bridges, func(b bridge) bool { return slices.Contains(b.ids, strings.ToUpper(ids)) })
}

// kindOfDevice tells the kind of link by the name of its file.
func kindOfDevice(path string) string {
	switch name := path[strings.LastIndexByte(path, '/')+1:]; {
	case strings.HasPrefix(name, "usbtmc"):
		return KindUSBTMC
	case strings.HasPrefix(name, "hidraw"):
		return KindHID
	}
	return KindSerial
}

// wanted says what an option's value should have been.
func wanted(key, value string) string {
	switch {
	case strings.Contains(value, "?"):
		return "further options follow an &, not a second question mark"
	case key == "answer" || key == "pause":
		return "want a time with its unit, such as 500ms or 2s"
	}
	return "want a whole number"
}
