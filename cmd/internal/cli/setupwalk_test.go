//go:build linux || darwin

package cli

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/configs"
	"steadyrail/drivers/sim"
)

// The keystroke-level model of Card, Moran and Newell (1980, from memory): a key of
// an average typist who is no secretary, and what is thought before each answer or
// command. Silent reading is 238 words a minute (Brysbaert 2019, from memory). The
// last two are assumptions of ours.
const (
	aKey    = 280 * time.Millisecond
	aMind   = 1350 * time.Millisecond
	aWord   = time.Minute / 238
	aLookAt = 15 * time.Second // a plate, a sticker or a manual is looked at for a figure
	aRelog  = 2 * time.Minute  // paste the rules, plug in again, log out and in
	promise = 15 * time.Minute
)

// newcomer unpacks a bench: a terminal that answers what it is asked.
type newcomer struct {
	t      *testing.T
	keys   io.Writer
	links  []string // of instruments that no list shows
	pocket []string // about the meter without a port
	text   strings.Builder

	questions, typed, said, looked, probes int
}

// facts are answers that stand on an instrument or in its papers.
var facts = map[string]string{
	"Category beside its sockets": "CAT II 300 V", "Computer's side": "isolated", "Its minus": "floating", "Calibration due": "2027-03-01",
}

func (n *newcomer) Write(b []byte) (int, error) {
	n.text.Write(b)
	if all := n.text.String(); strings.HasSuffix(all, "]: ") {
		answer := n.answer(strings.TrimSpace(all[strings.LastIndexByte(all, '\n')+1:]))
		n.questions++
		n.typed += len(answer) + 1
		n.said += len(strings.Fields(answer))
		if _, err := io.WriteString(n.keys, answer+"\n"); err != nil {
			n.t.Error(err)
		}
	}
	return len(b), nil
}

func (n *newcomer) answer(question string) string {
	for about, fact := range facts {
		if strings.HasPrefix(question, about) {
			n.looked++
			return fact
		}
	}
	begins := func(s string) bool { return strings.HasPrefix(question, s) }
	switch {
	case begins("Name of the bench"):
		return "east"
	case begins("Link"):
		return next(&n.links)
	case begins("On it: which model (? asks"):
		return "?"
	case begins("Do that"):
		n.probes++
		return "yes"
	case begins("May it be switched"):
		return "both"
	case begins("Name [no more]"):
		return next(&n.pocket)
	case begins("A range from its manual"):
		n.looked++
		return next(&n.pocket)
	case begins("Folder"), begins("Decimal"), begins("On "), begins("Name"), begins("Baud"), begins("At the end"):
		return "" // what is proposed, or nothing on a port of this computer
	}
	n.t.Errorf("nobody told the newcomer about %q", question)
	return ""
}

// next takes the first of a list; an empty one is no more.
func next(list *[]string) string {
	if len(*list) == 0 {
		return ""
	}
	s := (*list)[0]
	*list = (*list)[1:]
	return s
}

// A new bench, two meters, a supply, a meter that talks by itself and one without a
// port, from unpacking to a job that is open, keeps the promise of a quarter of an
// hour. The dialogue is the real one; the figures are counted from it.
func TestSetupInAQuarterOfAnHour(t *testing.T) {
	t.Chdir(t.TempDir()) // for links no longer than those of real ports
	n := &newcomer{t: t, pocket: []string{"pocket", "6 V 0.001 0.5% 2", "600 ohm 0.1 0.8% 2", "", ""}}
	n.links = served(t)
	const out = "bench.yaml"
	in, keys := io.Pipe()
	n.keys = keys
	defer keys.Close()
	root := newRoot(streams{in: in, out: io.Discard, err: n})
	root.SetArgs([]string{"setup"})
	if err := root.ExecuteContext(t.Context()); err != nil {
		t.Fatalf("setup: %v\n%s", err, n.text.String())
	}
	cfg, problems := configs.Load(out)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	if len(cfg.Instruments) != 4 || len(cfg.Handhelds) != 1 || len(cfg.Handhelds[0].Channels) != 2 {
		t.Errorf("%d instruments and %d meters without a port: %+v", len(cfg.Instruments), len(cfg.Handhelds), cfg.Handhelds)
	}
	commands := []string{"steadyrail setup", "steadyrail check --config bench.yaml --try", "yes"}
	_, after, _ := strings.Cut(n.text.String(), "\nNext:\n")
	for line := range strings.SplitSeq(after, "\n") {
		if strings.HasPrefix(line, "  ") {
			commands = append(commands, strings.TrimSpace(line))
		}
	}
	if len(commands) != 6 {
		t.Errorf("what comes next is not three commands: %q", after)
	}
	n.keeps(t, commands)
}

// keeps sums up what was counted.
func (n *newcomer) keeps(t *testing.T, commands []string) {
	t.Helper()
	typed := n.typed
	for _, c := range commands {
		typed += len(c) + 1
	}
	words := len(strings.Fields(n.text.String())) - n.said           // the answers are echoed
	waits := time.Duration(n.probes*3) * (listenFor + 2*time.Second) // three rates, each listened to and asked in vain
	parts := []struct {
		what string
		n    int
		each time.Duration
	}{{"keys", typed, aKey}, {"answers and commands", n.questions + len(commands), aMind}, {"words read", words, aWord}, {"looks at an instrument", n.looked, aLookAt}, {"probes, at worst", 1, waits}, {"rights", 1, aRelog}}
	var sum time.Duration
	for _, p := range parts {
		d := time.Duration(p.n) * p.each
		t.Logf("%-24s %4d  %v", p.what, p.n, d.Round(time.Second))
		sum += d
	}
	t.Logf("%d questions and %d commands: %v", n.questions, len(commands), sum.Round(time.Second))
	if sum > promise {
		t.Errorf("a new bench takes %v, and %v are promised", sum.Round(time.Second), promise)
	}
	if twice := strings.Count(n.text.String(), "restarts some small boards"); twice > 1 {
		t.Errorf("what opening a port does is told %d times", twice)
	}
}

// served is a simulated bench on real ports, and its links.
func served(t *testing.T) []string {
	t.Helper()
	b := sim.NewBench(sim.NewClock(capture.InstantOf(time.Now()), 1), 7, sim.Scenario{Dir: "b", Transport: map[string]string{sim.Supply: sim.TransportTCP}})
	if err := os.Mkdir("b", 0o700); err != nil {
		t.Fatal(err)
	}
	if err := b.Start(context.Background()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.Close)
	h, err := sim.NewHandheld(b, sim.HandheldOptions{Form: sim.FormLines})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(h.Close)
	if err := os.Symlink(strings.TrimPrefix(h.Link(), "serial:"), "b/hand"); err != nil {
		t.Fatal(err)
	}
	return []string{"b/dmm", "b/dmm2", b.Links()[sim.Supply], "b/hand"}
}

// The rate at which an instrument answered is the one of its link: without that it
// would be opened at the model's, and stay silent.
func TestSetupKeepsTheRateThatWasFound(t *testing.T) {
	place := filepath.Join(t.TempDir(), "port")
	if err := os.WriteFile(place, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		link string
		f    finding
		want string
	}{
		{"serial:" + place, finding{Answer: sim.IdentityDMM, Baud: 19200}, "serial:" + place + "?baud=19200"},
		{"serial:" + place + "?rts=off", finding{Answer: sim.IdentityDMM, Baud: 115200}, "serial:" + place + "?rts=off&baud=115200"},
		{"serial:" + place + "?baud=4800", finding{Answer: sim.IdentityDMM, Baud: 4800}, "serial:" + place + "?baud=4800"},
		{"serial:" + place, finding{}, "serial:" + place},
		{"tcp:127.0.0.1:5025", finding{Answer: sim.IdentityDMM}, "tcp:127.0.0.1:5025"},
	} {
		if got := foundAt(c.link, c.f); got != c.want {
			t.Errorf("%s, %+v: %s, want %s", c.link, c.f, got, c.want)
		}
	}
}

func TestManualRange(t *testing.T) {
	for _, c := range []struct{ in, part, problem string }{
		{"6 V 0.001 0.5% 2", "0.005", ""},
		{"600 ohm, 0.1, 0.3 %, 2", "0.003", ""},
		{"60V 0.01 0.8%+3", "0.008", ""},
		{"6 A 0.001 0.5% 2", "", "such as 6 V"},
		{"6 V", "", "such as 6 V"},
		{"0.001 V 6 0.5% 2", "", "first the full scale"},
		{"6 V 0.001 80% 2", "", "at most 50 %"},
		{"6.0.1 V 0.001 0.5% 2", "", "no figure"},
	} {
		r, err := parseManualRange(c.in)
		if c.problem == "" && (err != nil || r.part != c.part) || c.problem != "" && (err == nil || !strings.Contains(err.Error(), c.problem)) {
			t.Errorf("%q: %+v, %v", c.in, r, err)
		}
	}
}

func FuzzManualRange(f *testing.F) {
	f.Add("6 V 0.001 0.5% 2")
	f.Add("600 ohm, 0.1, 0.3 %, 2")
	f.Fuzz(func(t *testing.T, s string) {
		r, err := parseManualRange(s)
		if err == nil && (r.full == "" || r.step == "" || r.part == "" || r.digits == "" || strings.ContainsAny(r.full+r.step+r.part+r.digits, "\n{}\":,")) {
			t.Errorf("%q gives %+v", s, r)
		}
	})
}
