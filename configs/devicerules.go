package configs

import (
	_ "embed"
	"fmt"
	"strings"
)

//go:embed 70-steadyrail.rules
var deviceRules string

//go:embed 95-steadyrail.rules
var lateRules string

// The files that device rules belong into, and the group they give devices to.
const (
	DeviceRulesFile = "/etc/udev/rules.d/70-steadyrail.rules"
	LateRulesFile   = "/etc/udev/rules.d/95-steadyrail.rules"
	DeviceGroup     = "steadyrail-bench"
)

// example begins the line of the rules file that shows how an adapter is named.
const example = `# ATTRS{idVendor}==`

// DeviceRule is the line that names one adapter, by its USB ids in hexadecimal;
// without a serial number it is every adapter of that kind. The rule language
// compares ids in lower case.
func DeviceRule(vid, pid, serial string) string {
	line := fmt.Sprintf("ATTRS{idVendor}==%q, ATTRS{idProduct}==%q, ", strings.ToLower(vid), strings.ToLower(pid))
	if serial != "" {
		line += fmt.Sprintf("ATTRS{serial}==\"%s\", ", literally(serial))
	}
	return line + `TAG+="steadyrail"`
}

// literally takes the meaning from the characters of a pattern, and leaves out
// what would end the value.
func literally(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '"' || r == '\\' || r < ' ':
			b.WriteByte('?') // the pattern for any one character
		case strings.ContainsRune("*?[]|", r):
			b.WriteString("[" + string(r) + "]")
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// DeviceRules is the rules file with the given lines in it, without comments:
// what is pasted.
func DeviceRules(lines []string) string {
	var b strings.Builder
	for line := range strings.Lines(deviceRules) {
		switch {
		case strings.HasPrefix(line, example):
			for _, l := range lines {
				b.WriteString(l + "\n")
			}
		case line != "\n" && !strings.HasPrefix(line, "#"):
			b.WriteString(line)
		}
	}
	return b.String()
}

// LateRules is the second rules file, without comments.
func LateRules() string {
	var b strings.Builder
	for line := range strings.Lines(lateRules) {
		if line != "\n" && !strings.HasPrefix(line, "#") {
			b.WriteString(line)
		}
	}
	return b.String()
}
