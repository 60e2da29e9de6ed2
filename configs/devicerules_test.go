package configs

import (
	"regexp"
	"strings"
	"testing"
)

// A rule is tokens between commas, key operator "value", as udev(7) has it.
var token = regexp.MustCompile(`^(ACTION|SUBSYSTEM|KERNEL|ATTRS\{[A-Za-z]+\}|ENV\{[A-Z_]+\}|TAG|GROUP|MODE|GOTO|LABEL)(==|!=|\+=|=)"[^"\\]*"$`)

func tokens(t *testing.T, line string) []string {
	t.Helper()
	list := strings.Split(line, `", `)
	for i := range list {
		if i < len(list)-1 {
			list[i] += `"`
		}
		if !token.MatchString(list[i]) {
			t.Errorf("%s: %q is no token of a rule", line, list[i])
		}
	}
	return list
}

func TestDeviceRules(t *testing.T) {
	text := DeviceRules([]string{DeviceRule("1A2B", "3C4D", "00123457"), DeviceRule("0403", "6001", "")})
	want := `ATTRS{idVendor}=="1a2b", ATTRS{idProduct}=="3c4d", ATTRS{serial}=="00123457", TAG+="steadyrail"` + "\n" +
		`ATTRS{idVendor}=="0403", ATTRS{idProduct}=="6001", TAG+="steadyrail"` + "\n"
	if !strings.Contains(text, want) {
		t.Errorf("the adapters are not in it:\n%s", text)
	}
	if strings.Contains(text, "#") || strings.Contains(text, "\n\n") {
		t.Errorf("it has comments:\n%s", text)
	}
	labels, jumps := map[string]bool{}, map[string]bool{}
	named := strings.Index(text, want)
	for line := range strings.Lines(text + LateRules()) {
		for _, tok := range tokens(t, strings.TrimSpace(line)) {
			if name, ok := strings.CutPrefix(tok, "LABEL="); ok {
				labels[name] = true
			}
			if name, ok := strings.CutPrefix(tok, "GOTO="); ok {
				jumps[name] = true
			}
		}
	}
	for name := range jumps {
		if !labels[name] {
			t.Errorf("GOTO %s goes nowhere", name)
		}
	}
	for _, must := range []string{`ENV{ID_MM_DEVICE_IGNORE}="1"`, `GROUP="` + DeviceGroup + `"`, `"usbtmc*"`, `"hidraw"`} {
		if i := strings.Index(text, must); i < named {
			t.Errorf("%s must stand, and behind the adapters:\n%s", must, text)
		}
	}
	if strings.Contains(text, "0666") {
		t.Error("everybody may open the instruments")
	}
	if !strings.Contains(LateRules(), `ENV{SYSTEMD_WANTS}=""`) {
		t.Errorf("the Braille service is not kept off: %q", LateRules())
	}
}

// A serial number is whatever the adapter says: it must neither end the value
// nor match others.
func TestDeviceRuleSerialNumbers(t *testing.T) {
	for serial, want := range map[string]string{
		"A1":       `"A1"`,
		`a"b`:      `"a?b"`,
		`a\b`:      `"a?b"`,
		"a*":       `"a[*]"`,
		"x|y":      `"x[|]y"`,
		"7 \x01":   `"7 ?"`,
		"0[1]":     `"0[[]1[]]"`,
		"00123457": `"00123457"`,
	} {
		line := DeviceRule("1a2b", "3c4d", serial)
		if !strings.Contains(line, "ATTRS{serial}=="+want+",") {
			t.Errorf("%q: %s", serial, line)
		}
		tokens(t, line)
	}
}
