package wire

import (
	"fmt"
	"net"
	"strconv"
	"strings"
)

// parseHiSLIP takes HOST[:PORT][/SUB-ADDRESS].
func (a *Address) parseHiSLIP(where string) (err error) {
	a.Path, err = lanPath(where, hislipPort, "hislip0")
	return err
}

// parseVXI11 takes HOST[:PORT][/DEVICE]; without a port the far end is asked
// for it. A gateway calls its instruments gpib0,22 and the like.
func (a *Address) parseVXI11(where string) (err error) {
	a.Path, err = lanPath(where, "", "inst0")
	return err
}

// lanPath completes a place in the network, so that one wire has one name. An
// empty port stays away.
func lanPath(where, port, device string) (string, error) {
	hostport, given, named := strings.Cut(where, "/")
	if named {
		device = given
	}
	host, after, err := cutHost(hostport)
	if err == nil && after != "" {
		port = after
		err = checkHostPort(net.JoinHostPort(host, after))
	}
	if err == nil {
		err = checkDevice(device)
	}
	if err != nil {
		return "", err
	}
	if port == "" {
		if strings.Contains(host, ":") {
			host = "[" + host + "]"
		}
		return host + "/" + device, nil
	}
	return net.JoinHostPort(host, port) + "/" + device, nil
}

// cutHost parts HOST or HOST:PORT; an IPv6 address stands in brackets.
func cutHost(s string) (host, port string, err error) {
	bad := fmt.Errorf("want a host such as 192.168.1.20, or [fe80::1] with its brackets, and maybe :port and /device behind it")
	if strings.HasPrefix(s, "[") {
		inside, after, closed := strings.Cut(s[1:], "]")
		port, colon := strings.CutPrefix(after, ":")
		if !closed || net.ParseIP(strings.SplitN(inside, "%", 2)[0]) == nil || colon != (after != "") || colon && port == "" {
			return "", "", bad
		}
		return inside, port, nil
	}
	host, port, colon := strings.Cut(s, ":")
	if host == "" || strings.ContainsAny(host, "[]% ") || strings.Contains(port, ":") || colon && port == "" {
		return "", "", bad
	}
	return host, port, nil
}

// longestDevice keeps a name within one message; the longest in use have about
// a dozen characters.
const longestDevice = 128

func checkDevice(name string) error {
	if name == "" || len(name) > longestDevice {
		return fmt.Errorf("behind the slash want the name of the instrument, such as hislip0, inst0 or gpib0,22")
	}
	for i := range len(name) {
		if name[i] <= ' ' || name[i] > '~' || name[i] == '/' {
			return fmt.Errorf("the name %s behind the slash holds a character that no instrument's name has", strconv.Quote(name))
		}
	}
	return nil
}

// splitDevice takes lanPath apart again.
func splitDevice(path string) (where, device string) {
	where, device, _ = strings.Cut(path, "/")
	return where, device
}
