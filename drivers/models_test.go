package drivers

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/drivers/scpi"
	"steadyrail/drivers/wire"
)

var update = flag.Bool("update", false, "write the golden files anew")

const recordings = "../testdata/wire"

func shipped(t *testing.T) Models {
	t.Helper()
	m, err := LoadModels("")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestEveryModelHasARecording plays the recording of each model through the
// driver that the model makes: connect, three readings of each channel, every
// act. All of it must be used up, and what comes out is held against a golden
// file.
func TestEveryModelHasARecording(t *testing.T) {
	for name, model := range shipped(t) {
		t.Run(name, func(t *testing.T) {
			player := play(t, name)
			in := withLink(t, name, model, player)
			got := everything(t, in, model)
			if err := player.Done(); err != nil {
				t.Error(err)
			}
			golden(t, name, got)
		})
	}
}

func play(t *testing.T, name string) *wire.Player {
	t.Helper()
	file, err := os.Open(filepath.Join(recordings, name+".txt"))
	if err != nil {
		t.Fatalf("every model needs a recording: %v", err)
	}
	defer file.Close()
	player, err := wire.NewPlayer(file)
	if err != nil {
		t.Fatal(err)
	}
	return player
}

// recordedAt is the link of a model's recording, as far as it shows in the bytes.
func recordedAt(name string) string {
	if name == "modbus-meter" {
		return "tcp:127.0.0.1:1?framing=rtu&address=2"
	}
	return "tcp:127.0.0.1:1"
}

// withLink makes an instrument of a model on a link that is there already.
func withLink(t *testing.T, name string, model Model, link wire.Link) Instrument {
	t.Helper()
	cfg := Config{Name: "unit", Model: name, Link: recordedAt(name), Acts: model.Acts(), OnExit: ExitLeave}
	b, err := prepare(cfg, Models{name: model})
	if err != nil {
		t.Fatal(err)
	}
	b.dial = func(context.Context) (wire.Link, error) { return link, nil }
	in, err := dialects[model.Dialect].open(b)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// everything uses everything that a model can do and tells what came of it.
func everything(t *testing.T, in Instrument, model Model) string {
	t.Helper()
	ctx := t.Context()
	var out strings.Builder
	if err := in.Connect(ctx); err != nil {
		t.Fatal(err)
	}
	fmt.Fprintln(&out, in.Info().Identity)
	read := func(ch capture.ChannelID) {
		r, err := in.Measure(ctx, ch)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&out, "%s %s value=%v text=%q resolution=%v range=%v flags=%s\n",
			r.Channel, r.Quantity, r.Value, r.Text, r.Resolution, r.Range, r.Flags)
	}
	for _, c := range in.Info().Channels {
		if err := in.Select(ctx, c.ID); err != nil {
			t.Fatal(err)
		}
		for range 3 {
			read(c.ID)
		}
		if c.FixRange { // held for a value a quarter up the second largest range, and set free
			fixer := in.(capture.RangeFixer)
			hold(t, fixer, c.ID, c.Accuracy[len(c.Accuracy)-2].Range/4)
			read(c.ID)
			hold(t, fixer, c.ID, 0)
		}
	}
	for _, a := range allActs(model) {
		said, err := in.Do(ctx, a)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintln(&out, said)
	}
	if err := in.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func hold(t *testing.T, in capture.RangeFixer, ch capture.ChannelID, atLeast float64) {
	t.Helper()
	if err := in.FixRange(t.Context(), ch, atLeast); err != nil {
		t.Fatal(err)
	}
}

// tried are set-points for every limit there is.
var tried = map[string]string{"volts": "12", "amperes": "0.5", "over-voltage": "14", "over-current": "0.75"}

// allActs switches everything on and off and sets every limit.
func allActs(model Model) (acts []capture.Act) {
	for _, o := range model.Plan.Outputs {
		subject := "unit"
		if o.Name != "" {
			subject += "/" + o.Name
		}
		if o.On != "" {
			acts = append(acts, capture.Act{Verb: o.Verb, Subject: subject, Text: "on"}, capture.Act{Verb: o.Verb, Subject: subject, Text: "off"})
		}
		var list []string
		for _, l := range o.Limits {
			list = append(list, l.Name+" "+tried[l.Name])
		}
		if len(list) > 0 {
			acts = append(acts, capture.Act{Verb: capture.ActLimits, Subject: subject, Text: strings.Join(list, ", ")})
		}
	}
	return acts
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join(recordings, name+".golden")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// TestEveryRecordingHasAModel: a recording that nobody plays proves nothing.
func TestEveryRecordingHasAModel(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(recordings, "*.txt"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%v: %d recordings", err, len(files))
	}
	models := shipped(t)
	for _, f := range files {
		if _, ok := models[strings.TrimSuffix(filepath.Base(f), ".txt")]; !ok {
			t.Errorf("%s belongs to no model", f)
		}
	}
}

// TestNothingResets goes over every phrase of every model, and over every row
// that was ever sent in a recording.
func TestNothingResets(t *testing.T) {
	for name, m := range shipped(t) {
		for _, p := range m.Plan.Phrases() {
			if err := scpi.CheckPhrase(p); err != nil || strings.Contains(strings.ToUpper(p), "RST") {
				t.Errorf("%s: %q: %v", name, p, err)
			}
		}
	}
	files, _ := filepath.Glob(filepath.Join(recordings, "*.txt"))
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range strings.Split(string(text), "\n") {
			if _, sent, ok := strings.Cut(row, " > "); ok {
				if err := scpi.CheckPhrase(sent); err != nil {
					t.Errorf("%s: %v", f, err)
				}
			}
		}
	}
}

// TestAnswering: the words are the files' own; a maker's name is not looked at,
// and what says nothing proposes nothing.
func TestAnswering(t *testing.T) {
	models, err := LoadModels("")
	if err != nil {
		t.Fatal(err)
	}
	for answer, want := range map[string]string{
		"steadyrail,SIM-TC,00077001,1.0":      "scpi-thermometer",
		"steadyrail,sim-psu,00240011,1.0":     "scpi-supply",
		"Alderbrook,BENCH LOAD 60,1,1.0":      "scpi-load",
		"steadyrail,SIM-DMM,00123457,1.0":     "",
		"Power Instruments,DIGIT-6,77,1.0":    "",
		"Alderbrook,SUPPLY FOR TEMP TEST,1,1": "scpi-supply",
		"":                                    "",
	} {
		if got := models.Answering(answer); got != want {
			t.Errorf("%q: %q, want %q", answer, got, want)
		}
	}
}
