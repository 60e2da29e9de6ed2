package app_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/live"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/dashboards"
	"steadyrail/drivers/sim"
)

// A job from its opening to its closing, with everything that is refused on
// the way, and what is left of it.
func TestJob(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	ctx := t.Context()
	_, err := r.Act(ctx, "", capture.Act{Verb: capture.ActNote, Text: "too early"})
	refused(t, "a note without a job", err, dashboards.NotFound, "job open")
	r.open(jobID)
	if list, err := r.Jobs(ctx); err != nil || len(list) != 1 || list[0].Opened == 0 || list[0].Set == "" || list[0].Stage != capture.TakeIn {
		t.Errorf("jobs right after opening: %+v, %v", list, err)
	}
	_, err = r.OpenJob(ctx, sheet(t, jobID))
	refused(t, "a job of the same name", err, dashboards.Conflict, jobID)
	_, err = r.OpenJob(ctx, sheet(t, "../etc"))
	refused(t, "a job named like a path", err, dashboards.Invalid)
	_, err = r.Act(ctx, "AB-9999", capture.Act{Verb: capture.ActNote, Text: "nowhere"})
	refused(t, "a job that is not open", err, dashboards.NotFound, "AB-9999")

	r.put(sim.DMM, twelve, sim.Point12, capture.Touched)
	_, err = r.Place(ctx, "", capture.Placement{Channel: "scope/volts", Rail: five})
	refused(t, "an unknown channel", err, dashboards.NotFound, "dmm/volts", "dmm/ohms", "thermo/celsius")
	_, err = r.Place(ctx, "", capture.Placement{Channel: "dmm/volts", Rail: "+9 V motor"})
	refused(t, "an unknown rail", err, dashboards.NotFound, "+9 V motor", five)
	_, err = r.Place(ctx, "", capture.Placement{Channel: "dmm/volts", Rail: five, Corrects: 12})
	refused(t, "a correction of nothing", err, dashboards.NotFound)

	res, err := r.Enter(ctx, "", dashboards.Typed{Rail: five, Text: "0.84 ohm", Meter: "the old needle"})
	r.must(err)
	if !strings.Contains(res.Say, "0.84") {
		t.Errorf("entered: %q", res.Say)
	}
	for _, text := range []string{"five", "", "1_000", "NaN", "5 parsec"} {
		_, err = r.Enter(ctx, "", dashboards.Typed{Rail: five, Text: text})
		refused(t, "a typed "+text, err, dashboards.Invalid)
	}
	_, err = r.Enter(ctx, "", dashboards.Typed{Rail: "+9 V motor", Text: "5.0"})
	refused(t, "a typed value for no rail", err, dashboards.NotFound)
	r.act(capture.Act{Verb: capture.ActNote, Text: "Glue around C104 is brown."})
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActNote})
	refused(t, "an empty note", err, dashboards.Invalid)

	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.ColdChecks})
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActSoak, Text: "start", Value: 3600})
	refused(t, "a soak in a stage that watches nothing", err, dashboards.Refused, "cold checks", "stage soak")
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActStage, Stage: capture.Soak})
	refused(t, "a stage skipped", err, dashboards.Refused, string(capture.Isolate))
	if !errors.Is(err, job.ErrNeedsReason) {
		t.Errorf("skipping: %v", err)
	}
	r.act(capture.Act{Verb: capture.ActStage, Stage: capture.Soak, Text: "rework, checked last week"})
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActSoak, Text: "stop"})
	refused(t, "a soak that was not begun", err, dashboards.Conflict)
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActSoak, Text: "start", Value: 3600})
	refused(t, "a soak with nothing clipped", err, dashboards.Refused, "clip")
	r.put(sim.DMM, twelve, sim.Point12, capture.Clipped)
	_, err = r.Place(ctx, "", capture.Placement{Channel: "dmm2/volts", Rail: twelve})
	refused(t, "a second meter on the rail", err, dashboards.Conflict, "dmm/volts")
	_, err = r.Place(ctx, "", capture.Placement{Channel: "supply/volts", Rail: five})
	refused(t, "a supply's own voltage on a rail", err, dashboards.Refused, "at the supply")
	r.act(capture.Act{Verb: capture.ActSoak, Text: "start", Value: 3600})
	r.until("the soak is on screen", func(s live.Snapshot) bool {
		j, _ := s.Job(jobID)
		return j.Soak != nil && j.Soak.To == 0 && j.Soak.Planned == 3600
	})
	r.until("+12 V is read", func(s live.Snapshot) bool { return r.ordinal("dmm/volts") > 5 })
	r.act(capture.Act{Verb: capture.ActSoak, Text: "stop"})
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActHeard, Subject: "collapse of nothing@1"})
	refused(t, "an alarm that never was", err, dashboards.NotFound, "collapse of nothing@1", "no alarm is open")

	open := r.documents(jobID)
	r.act(capture.Act{Verb: capture.ActClose})
	if _, ok := r.Snapshot().Job(jobID); ok {
		t.Error("a closed job is on screen")
	}
	if v := r.metric("steadyrail_rail_volts", `job="`+jobID+`"`); v != "" {
		t.Errorf("a closed job's series goes on: %s", v)
	}
	_, err = r.Act(ctx, jobID, capture.Act{Verb: capture.ActNote, Text: "too late"})
	refused(t, "a note to a closed job", err, dashboards.NotFound, jobID)
	closed := r.documents(jobID)
	if closed < open || open < 10 {
		t.Errorf("%d rows while open, %d when closed", open, closed)
	}
	if _, err := r.ExportAs("AB-9999"); err == nil {
		t.Error("a job that never was could be exported")
	}
	list, err := r.Jobs(ctx)
	if err != nil || len(list) != 1 || list[0].Closed == 0 {
		t.Errorf("jobs: %+v, %v", list, err)
	}
	r.stop()
	r.read(jobID)
}

// ExportAs returns a job's CSV.
func (r *rig) ExportAs(id string) (string, error) {
	var b bytes.Buffer
	err := r.ExportCSV(r.t.Context(), id, capture.Point, &b)
	return b.String(), err
}

// documents writes CSV and report of a job, looks whether they are whole, and
// returns how many readings the CSV has.
func (r *rig) documents(id string) int {
	r.t.Helper()
	text, err := r.ExportAs(id)
	r.must(err)
	body := text
	for strings.HasPrefix(body, "#") {
		_, body, _ = strings.Cut(body, "\n")
	}
	rows, err := csv.NewReader(strings.NewReader(body)).ReadAll()
	r.must(err)
	var b bytes.Buffer
	r.must(r.Report(r.t.Context(), id, &b))
	for _, want := range []string{id, "Glue around C104", "rework, checked last week", "</html>"} {
		if !strings.Contains(b.String(), want) {
			r.t.Errorf("the report of %s lacks %q", id, want)
		}
	}
	return len(rows) - 1
}

// A channel serves one job at a time, and goes over only from nothing.
func TestTwoJobs(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	ctx := t.Context()
	r.open(jobID)
	r.put(sim.DMM, twelve, sim.Point12, capture.Clipped)
	r.open("AB-0148")
	_, err := r.Place(ctx, "AB-0148", capture.Placement{Channel: "dmm/volts", Rail: five})
	refused(t, "a channel of another job", err, dashboards.Conflict, "dmm/volts", jobID)
	_, err = r.Place(ctx, "AB-0148", capture.Placement{Channel: "dmm/ohms", Rail: five})
	refused(t, "the other function of its input", err, dashboards.Conflict, jobID)
	_, err = r.Place(ctx, jobID, capture.Placement{Channel: "dmm/volts"})
	r.must(err)
	_, err = r.Place(ctx, "AB-0148", capture.Placement{Channel: "dmm/volts", Rail: five, Hold: capture.Clipped})
	r.must(err)
	r.until("the other job's rail is read", func(s live.Snapshot) bool {
		j, _ := s.Job("AB-0148")
		return j.Rails[0].Volts != nil
	})
	last := r.Snapshot().Now
	r.stop()
	r.read(jobID).readings("dmm/volts", func(at capture.Instant, v capture.Reading) {
		if at > last {
			t.Errorf("the first job still gets %+v", v)
		}
	})
	r.read("AB-0148")
}

// A meter whose function is changed files nothing under the other function's
// name, and a volt never becomes an ohm.
func TestFunctionChanges(t *testing.T) {
	t.Parallel()
	r := newRig(t, 10)
	r.powered()
	for range 8 {
		r.must(r.bench.Lift(sim.DMM))
		for _, ch := range []capture.ChannelID{"dmm/ohms", "dmm/volts"} {
			r.place(capture.Placement{Channel: ch, Rail: five, Hold: capture.Touched})
			r.must(r.bench.Touch(sim.DMM, map[capture.ChannelID]string{"dmm/ohms": sim.PointShorted, "dmm/volts": sim.Point5}[ch], capture.Touched))
			since := r.clock.Now()
			r.until("a reading of "+string(ch), func(s live.Snapshot) bool {
				c, _ := s.Channel(ch)
				return c.Last != nil && c.Last.At > since
			})
			r.must(r.bench.Lift(sim.DMM))
		}
	}
	r.stop()
	rec := r.read(jobID)
	on := map[capture.ChannelID]bool{}
	for _, one := range rec.records {
		switch it := one.Item.(type) {
		case capture.Placement:
			on[it.Channel] = it.Rail != ""
		case capture.Reading:
			if it.Channel.Input() != "ohms" && it.Channel != "dmm/volts" || !on[it.Channel] {
				continue
			}
			if other := map[capture.ChannelID]capture.ChannelID{"dmm/ohms": "dmm/volts", "dmm/volts": "dmm/ohms"}[it.Channel]; on[other] {
				t.Fatalf("%s and %s stand on a rail at once", it.Channel, other)
			}
			if it.Channel == "dmm/ohms" && it.HasValue() && math.Abs(it.Value-5) < 0.3 {
				t.Errorf("5 V were filed as ohms: %+v", it)
			}
		}
	}
}

// What is not known to be isolated never goes on the mains side.
func TestMainsSide(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	s := sheet(t, jobID)
	s.Rails[1].Side = capture.Mains
	_, err := r.OpenJob(t.Context(), s)
	r.must(err)
	for _, ch := range []capture.ChannelID{"supply/volts", "thermo/celsius"} {
		_, err = r.Place(t.Context(), "", capture.Placement{Channel: ch, Rail: twelve})
		refused(t, string(ch)+" on the mains side", err, dashboards.Refused, twelve, "isolat", "Local codes")
	}
	_, err = r.Place(t.Context(), "", capture.Placement{Channel: "dmm/volts", Rail: twelve})
	r.must(err)
	_, err = r.Place(t.Context(), "", capture.Placement{Channel: "thermo/celsius", Point: sim.PointCase})
	refused(t, "a sensor that may be earthed, on a board with a mains side", err, dashboards.Refused, "isolat", "Local codes")
}

// Acts on instruments: what the configuration does not allow is refused and
// nothing sent; an output that cannot be switched off is not called off.
func TestOutput(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5, brisk)
	ctx := t.Context()
	r.soak()
	_, err := r.Act(ctx, "", capture.Act{Verb: capture.ActOutput, Subject: sim.DMM, Text: "off"})
	refused(t, "switching a meter off", err, dashboards.NotAllowed, sim.DMM)
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActOutput, Subject: "scope", Text: "off"})
	refused(t, "an unknown instrument", err, dashboards.NotFound, "scope")
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: "volts many"})
	if err == nil {
		t.Error("nonsense was set as limits")
	}

	res := r.act(capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"})
	if !strings.Contains(res.Say, "confirmed after") {
		t.Errorf("off: %q", res.Say)
	}
	r.until("the rails are down", func(s live.Snapshot) bool {
		c, _ := s.Channel("dmm/volts")
		return c.Last != nil && c.Last.Reading.Good() && c.Last.Reading.Value < 1
	})
	r.pass(5 * time.Second)
	if j, _ := r.Snapshot().Job(jobID); len(j.Alarms)+len(j.Past) != 0 {
		t.Errorf("switched off by hand, and it alarms: %+v %+v", j.Alarms, j.Past)
	}
	if v := r.metric("steadyrail_trip_delay_seconds_count", `by="person"`); v != "1" {
		t.Errorf("trip delays counted: %q", v)
	}

	r.fault("mute", sim.Supply, "8")
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActLimits, Subject: sim.Supply, Text: "volts 24"})
	refused(t, "limits without an answer", err, dashboards.Unavailable, sim.Supply)
	r.untilUp(sim.Supply, true)
	r.fault("link down", sim.Supply)
	r.untilUp(sim.Supply, false)
	_, err = r.Permit(ctx, "", dashboards.PermitRequest{Kind: dashboards.PermitPower, Subject: sim.Supply})
	refused(t, "on without a link", err, dashboards.Refused, sim.Supply, "its link was lost")
	_, err = r.Act(ctx, "", capture.Act{Verb: capture.ActOutput, Subject: sim.Supply, Text: "off"})
	refused(t, "off without a link", err, dashboards.Unavailable, sim.Supply)
	r.fault("link up", sim.Supply)
	r.untilUp(sim.Supply, true)
	if n := r.bench.Resets(); n != 0 {
		t.Errorf("*RST was sent %d times", n)
	}
	r.stop()
	s := r.read(jobID)
	if acts := s.acts(capture.ActOutput, sim.DMM); len(acts) != 0 {
		t.Errorf("what a meter may not do stands in the record: %+v", acts)
	}
	acts := s.acts(capture.ActOutput, sim.Supply)
	if last := acts[len(acts)-1].Item.(capture.Act).Text; last != capture.NotConfirmed {
		t.Errorf("off without a link is recorded as %q", last)
	}
}

// A job that cannot be opened leaves no file behind: its name stays free.
func TestJobThatCannotBeOpened(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	s := sheet(t, jobID)
	s.Rails[1].Name = s.Rails[0].Name
	_, err := r.OpenJob(t.Context(), s)
	refused(t, "two rails of one name", err, dashboards.Invalid, "two rails are called "+five)
	if list, err := r.Jobs(t.Context()); err != nil || len(list) != 0 {
		t.Errorf("jobs %+v, %v", list, err)
	}
	r.open(jobID)
	// Said to be open, it is on the disk: a kill now leaves no job without rails.
	if records := r.read(jobID).records; len(records) == 0 {
		t.Error("the job is said to be open, and its file is empty")
	}
}

// A record that was changed after it was written is reported as such.
func TestReportOfAChangedRecord(t *testing.T) {
	t.Parallel()
	r := newRig(t, 5)
	r.soak()
	r.act(capture.Act{Verb: capture.ActNote, Text: "Glue under C104."})
	r.stop()
	path := filepath.Join(r.cfg.Workspace, "jobs", jobID+store.Extension)
	text, err := os.ReadFile(path)
	r.must(err)
	at := bytes.Index(text, []byte("Glue under"))
	if at < 0 {
		t.Fatal("the note is not in the file")
	}
	text[at] = 'B'
	r.must(os.WriteFile(path, text, 0o600))
	err = app.ReadFile(t.Context(), path, func(f *store.Job, b *job.Book) error {
		d, err := app.Dossier(t.Context(), f, b)
		if err == nil && d.Broken == "" {
			t.Error("the dossier does not say that the record was changed")
		}
		return err
	})
	r.must(err)
}
