package sim

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

func TestScript(t *testing.T) {
	s, err := ParseScript("# soak\n\nat 2h10m input joint 1.8s 60ohm # the one\nat 90s link down dmm2\r\nat 3h late dmm 800ms 3\nat 4h clear\n")
	if err != nil || s.Len() != 4 {
		t.Fatalf("%d steps, %v", s.Len(), err)
	}
	if s.steps[0].fault.name != "link down" {
		t.Errorf("not in order of time: %s first", s.steps[0].fault.name)
	}
	joint := s.steps[1]
	if joint.at != 130*time.Minute || joint.args.duration != 1800*time.Millisecond || joint.args.value != 60 {
		t.Errorf("joint: %+v", joint.args)
	}
	for text, want := range map[string]string{
		"input joint 1s":           `line 1: write "at TIME FAULT"`,
		"\nat":                     "line 2",
		"at soon input joint 1s":   `"soon" is no time`,
		"at -1s input joint 1s":    `"-1s" is no time`,
		"at 1s meteor":             `no such fault "meteor"`,
		"at 1s input":              `no such fault "input"`,
		"at 1s input joint":        "lacks DURATION: input joint DURATION [OHMS]",
		"at 1s input joint x":      `"x" is no time such as`,
		"at 1s input joint 1s 2 3": "at most 2 arguments",
		"at 1s input joint 1s 0":   `"0" is not between`,
		"at 1s input joint 1s NaN": `"NaN" is not between`,
		"at 1s link down scope":    `"scope" is none of`,
		"at 1s garble dmm 0":       "not between 1 and",
		"at 1s room 1e3":           "not between -40 and 85",
		"at 1s load step many":     `"many" is not a number`,
		"at 1s clear all":          "at most 0 arguments",
	} {
		if _, err := ParseScript(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func FuzzScript(f *testing.F) {
	f.Add("at 2h10m input joint 1.8s\nat 1s swap links dmm dmm2")
	f.Add("at 1s short +5 V 0.3 10s # x")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseScript(text)
		if err != nil && !strings.Contains(err.Error(), "line ") {
			t.Errorf("an error without its line: %v", err)
		}
		if s.Len() > strings.Count(text, "\n")+1 {
			t.Errorf("%d steps", s.Len())
		}
	})
}

// A script's fault happens at its bench time, to the step, and whatever
// happens to the model is exact however late anybody looks.
func TestPlayIsOnTime(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	r.powerUp()
	s, err := ParseScript("at 10m input joint 1.8s")
	r.must(err)
	start := r.clock.Now()
	r.Play(s)
	r.pass(10*time.Minute + 5*time.Second)
	r.truth(Point5)
	at := start.Add(10 * time.Minute)
	near(t, "before", r.world.past.mean(n5, at.Add(-time.Second), at.Add(-500*time.Millisecond)), 5, 0.1)
	near(t, "in the episode", r.world.past.mean(n5, at.Add(200*time.Millisecond), at.Add(time.Second)), 0, 0.2)
	near(t, "after", r.truth(Point5), 5, 0.1)
}

func TestPlayPullsCables(t *testing.T) {
	served(t, func(t *testing.T, b *Bench) {
		s, err := ParseScript("at 2s link down dmm\nat 4s link up dmm")
		if err != nil {
			t.Fatal(err)
		}
		c := dial(t, b.Links()[DMM])
		b.Play(s)
		for { // until the cable is pulled
			if _, err := c.Write([]byte("*OPC?\n")); err != nil {
				break
			}
			if _, err := c.r.ReadString('\n'); err != nil {
				break
			}
		}
		b.players.Wait()
		if got := dial(t, b.Links()[DMM]).ask("*IDN?"); got != IdentityDMM {
			t.Errorf("%q", got)
		}
	})
}

// Every fault of the table happens when asked for, with arguments as its usage
// says and no more.
func TestEveryFault(t *testing.T) {
	example := map[argKind]string{argDuration: "1s", argOhms: "5", argAmps: "0.1", argCelsius: "30", argInstrument: DMM, argCount: "2"}
	b := NewBench(NewClock(begin, 50), 1, Scenario{TCP: true})
	if err := b.Fault("link down", DMM); err == nil {
		t.Error("a cable was pulled before the start")
	}
	if err := b.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	for _, f := range faultTable() {
		var least, most []string
		for _, p := range f.params {
			word := example[p.kind]
			if p.kind == argInstrument && len(most) == 1 {
				word = DMM2
			}
			most = append(most, word)
			if p.def == "" {
				least = append(least, word)
			}
		}
		for _, words := range [][]string{least, most} {
			if err := b.Fault(f.name, words...); err != nil {
				t.Errorf("%s %v: %v", f.name, words, err)
			}
		}
		if err := b.Fault(f.name, append(most, "more")...); !errors.Is(err, ErrFault) {
			t.Errorf("%s with one more: %v", f.name, err)
		}
		if (f.model == nil) == (f.link == nil) {
			t.Errorf("%s: does both or nothing", f.name)
		}
	}
}

func TestLoadStepEnds(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	r.powerUp()
	before := r.truth("stand-in amperes")
	r.must(r.Fault("load step", "0.5A", "10s"))
	r.pass(5 * time.Second)
	near(t, "during", r.truth("stand-in amperes"), before+0.5, 0.05)
	r.pass(6 * time.Second)
	near(t, "after", r.truth("stand-in amperes"), before, 0.05)
}

func TestFaultHandler(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	r.powerUp()
	h := r.FaultHandler()
	do := func(method, body string) *httptest.ResponseRecorder {
		q := httptest.NewRequest(method, "/", strings.NewReader(body))
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, q)
		return w
	}
	var list []FaultInfo
	w := do(http.MethodGet, "")
	if err := json.Unmarshal(w.Body.Bytes(), &list); err != nil || len(list) != len(faultTable()) {
		t.Errorf("list: %d, %v", len(list), err)
	}
	w = do(http.MethodPost, url.Values{"name": {"input joint"}, "args": {"1s 50"}}.Encode())
	if w.Code != http.StatusNoContent || r.truth("input joint") != 50 {
		t.Errorf("post: %d, joint %g", w.Code, r.truth("input joint"))
	}
	for body, code := range map[string]int{"name=meteor": 400, "": 400, "name=%zz": 400, "name=" + strings.Repeat("x", 5000): 400} {
		w := do(http.MethodPost, body)
		if w.Code != code || w.Header().Get("Content-Type") != "application/problem+json" || !json.Valid(w.Body.Bytes()) {
			t.Errorf("%.20q: %d %s", body, w.Code, w.Body)
		}
	}
	if w := do(http.MethodDelete, ""); w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") == "" {
		t.Errorf("delete: %d", w.Code)
	}
}

func TestHandsRefuseWhatCannotBe(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	for name, err := range map[string]error{
		"point":         r.Touch(DMM, "TP99", capture.Touched),
		"instrument":    r.Touch("scope", Point5, capture.Touched),
		"supply":        r.Touch(Supply, Point5, capture.Touched),
		"bead":          r.Touch(Thermo, Point5, capture.Touched),
		"lift":          r.Lift(Supply),
		"part":          r.Unplug("IC7"),
		"two at a time": r.Plug(StandIn),
		"feed":          r.Feed("the cat"),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	r.must(r.Unplug(PS2))
	r.must(r.Plug(StandIn))
	if r.Plug(PS2) == nil || r.Feed(FeedStandIn) == nil || r.Feed(FeedRail5) == nil {
		t.Error("two converters in one place")
	}
	for _, p := range Points() {
		r.must(r.Touch(DMM, p, capture.Touched))
		if _, err := r.Truth(p); err != nil {
			t.Error(err)
		}
	}
	for _, p := range Parts() {
		r.must(r.Unplug(p))
	}
}
