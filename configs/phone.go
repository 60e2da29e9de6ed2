package configs

import (
	"net"
	"strconv"
	"strings"
)

// checkPhone refuses what is no address of one interface: the page for a phone
// is opened where a person said, or where one was found, never everywhere.
func checkPhone(value string) (what, hint string) {
	if value == "" {
		return "", ""
	}
	const example = "write 192.168.1.20, or 192.168.1.20:8471 when a firewall lets that port through"
	host, port, err := net.SplitHostPort(value)
	if err != nil {
		host, port = strings.Trim(value, "[]"), "0"
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return "port " + strconv.Quote(cut(port)) + " is not a number from 0 to 65535", example
	}
	switch ip := net.ParseIP(host); {
	case ip == nil:
		return strconv.Quote(cut(host)) + " is no address of this computer", example
	case ip.IsUnspecified():
		return strconv.Quote(cut(host)) + " means every network that this computer is in", example
	}
	return "", ""
}
