package cli

import (
	"errors"
	"fmt"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"steadyrail/configs"
	"steadyrail/drivers/wire"
)

// plan is the configuration that setup writes.
type plan struct {
	bench, workspace, decimal string
	instruments               []entry
	handhelds                 []handheldEntry
}

// entry is one instrument of it, as it was answered; empty is not stated.
type entry struct {
	name, model, link, baud string
	serial                  string
	category, port, due     string
	output                  string // its minus, of a supply or load
	acts, onExit            string // acts: as the list in the file, or no
}

// fullLink is the link with the answered rate.
func (e entry) fullLink() string {
	if e.baud == "" {
		return e.link
	}
	return withOption(e.link, "baud="+e.baud)
}

// yaml writes the configuration. Everything that was typed is quoted: 00123457
// is a number to many programs.
func (p plan) yaml() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("# Written by `steadyrail setup`. configs/example.yaml has every key with a comment;")
	line("# `steadyrail check` tells what is wrong after a change.")
	line("bench: %s", quoted(p.bench))
	line("workspace: %s", quoted(p.workspace))
	line("decimal: %s", p.decimal)
	line("instruments:")
	for _, e := range p.instruments {
		e.yaml(line)
	}
	if len(p.handhelds) > 0 {
		line("handhelds:")
	}
	for _, h := range p.handhelds {
		h.yaml(line)
	}
	return b.String()
}

func (e entry) yaml(line func(string, ...any)) {
	line("  - name: %s", quoted(e.name))
	line("    model: %s", quoted(e.model))
	line("    link: %s", quoted(e.fullLink()))
	if e.serial != "" {
		line("    expect: {serial_number: %s}", quoted(e.serial))
	}
	var isolation []string
	if e.category != "" {
		isolation = append(isolation, "category: "+quoted(e.category))
	}
	if e.port != "" {
		isolation = append(isolation, "port: "+e.port)
	}
	if e.output != "" {
		isolation = append(isolation, "output: "+e.output)
	}
	if len(isolation) > 0 {
		line("    isolation: {%s}", strings.Join(isolation, ", "))
	}
	if e.due != "" {
		line("    calibration_due: %s", e.due)
	}
	if e.acts != "" && e.acts != "no" {
		line("    acts: [%s]", e.acts)
	}
	if e.onExit != "" {
		line("    on_exit: %s", e.onExit)
	}
}

// quoted writes a text so that no reader takes it for anything else.
func quoted(s string) string { return strconv.Quote(s) }

func checkBench(s string) (string, error) {
	if err := configs.CheckBench(s); err != nil {
		return "", err
	}
	return s, nil
}

func checkFolder(s string) (string, error) {
	if strings.ContainsAny(s, "\"\n\x00") {
		return "", errors.New("a folder without quotes in its name")
	}
	return s, nil
}

func checkCategory(s string) (string, error) {
	if err := configs.CheckCategory(s); err != nil {
		return "", err
	}
	return s, nil
}

// halfCategory is a measurement category whose voltage is missing.
var halfCategory = regexp.MustCompile(`^(?i)CAT\s+(II|III|IV)$`)

// categoryAnswer is checkCategory for a person, who may give the voltage that is
// missing by itself when it is asked for.
func categoryAnswer() func(string) (string, error) {
	half := ""
	return func(s string) (string, error) {
		whole := s
		if half != "" && s[0] >= '0' && s[0] <= '9' {
			whole = half + " " + strings.TrimSpace(strings.TrimRight(s, "vV ")) + " V"
		}
		good, err := checkCategory(whole)
		if err != nil && halfCategory.MatchString(s) {
			half = strings.ToUpper(s)
			return "", fmt.Errorf("%s for how many volts? It stands beside the sockets: answer such as 300 V", half)
		}
		return good, err
	}
}

func checkDate(s string) (string, error) {
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		return "", fmt.Errorf("%q is no date: write year-month-day, such as 2027-03-01", s)
	}
	return s, nil
}

func checkBaud(s string) (string, error) {
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 || (wire.Line{Baud: n}).Validate() != nil {
		return "", fmt.Errorf("%q is no rate: usually 9600, 19200 or 115200", s)
	}
	return s, nil
}

// needsBaud reports whether a rate is to be asked for: a serial line, whose link
// does not say it.
func needsBaud(link string) bool {
	a, err := wire.ParseAddress(link)
	return err == nil && serial(a) && !strings.Contains(link, "baud=")
}

func (u *setup) checkName(s string) (string, error) {
	if err := configs.CheckName(s); err != nil {
		return "", err
	}
	names := u.plan.names()
	if slices.ContainsFunc(names, func(n string) bool { return strings.EqualFold(n, s) }) {
		return "", fmt.Errorf("%q is the name of another instrument of this bench", s)
	}
	return s, nil
}

// freeName proposes a name from the model's last word: multimeter, multimeter2.
func (u *setup) freeName(model string) string {
	base := model[strings.LastIndexByte(model, '-')+1:]
	if strings.HasPrefix(u.models[model].Title, "handheld") {
		base = "handheld" // ascii and segment are no names for a meter
	}
	if base == "" || base[0] < 'A' {
		base = "meter"
	}
	name := base
	for i := 2; ; i++ {
		if _, err := u.checkName(name); err == nil || i > 99 {
			return name
		}
		name = base + strconv.Itoa(i)
	}
}

func mayOpen(p wire.Port) bool { return p.Access == "" }

func ruleFor(p wire.Port) string { return configs.DeviceRule(p.VID, p.PID, p.Serial) }

// showRules prints what to paste so that the instruments, and only they, can be
// opened, and nothing else seizes them.
func (u *setup) showRules() {
	switch {
	case len(u.rules) == 0:
	case runtime.GOOS == "linux":
		u.say("\nRights. Paste this once; it gives these adapters, and nothing else, to the\ngroup %s, and keeps modem and Braille services off them. Then\nunplug them, plug them in again, and log out and in.\n", configs.DeviceGroup)
		fmt.Fprintf(u.err, "sudo groupadd --force --system %s\nsudo usermod -aG %s \"$USER\"\n", configs.DeviceGroup, configs.DeviceGroup)
		paste := func(file, text string) { fmt.Fprintf(u.err, "sudo tee %s >/dev/null <<'END'\n%sEND\n", file, text) }
		paste(configs.DeviceRulesFile, configs.DeviceRules(u.rules))
		paste(configs.LateRulesFile, configs.LateRules())
		fmt.Fprintln(u.err, "sudo udevadm control --reload")
	case runtime.GOOS == "windows":
		u.say("\nRights: none are needed here. Switch off \"allow the computer to turn off this\ndevice\" for the adapters in the device manager, or they fall asleep.")
	default:
		u.say("\nRights: none are needed here. Use the /dev/cu. names, never /dev/tty.")
	}
}
