package app_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
	"steadyrail/rules/standin"
)

// example is the file of needs and candidates that is given to copy.
func example(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "configs", "standin.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// The example file is judged by the API as it is judged by itself, and the answer
// is JSON with nothing lost. Then a figure that was read in the job takes the
// place of the stated one, and the judgement is kept in the record and told.
func TestStandInsByTheAPI(t *testing.T) {
	r := newRig(t, 1)
	r.open("AB-0147")
	text := example(t)
	code, body := r.ask("POST", "/api/v1/standin", text, r.withToken)
	var got struct{ Judgements []web.StandIn }
	if err := json.Unmarshal([]byte(body), &got); err != nil || code != 200 {
		t.Fatal(code, err, body)
	}
	file, _ := configs.ParseStandIn("text", []byte(text))
	if len(got.Judgements) != len(file.Candidates) {
		t.Fatalf("%d of %d candidates were judged", len(got.Judgements), len(file.Candidates))
	}
	for i, c := range file.Candidates {
		want, err := json.Marshal(standin.Judge(file.Need, c, standin.Scope{}))
		if err != nil {
			t.Fatal(err)
		}
		if one := sameJSON(t, got.Judgements[i]); one != sameJSON(t, json.RawMessage(want)) {
			t.Errorf("%s:\n got %s\nwant %s", c.Name, one, want)
		}
	}
	if code, body := r.ask("POST", "/api/v1/standin", `{"rail": "+5 2%", "nede": {}}`, r.withToken); code != 400 {
		t.Error("a misspelt key was passed over:", code, body)
	}
	code, body = r.ask("POST", "/api/v1/standin?job=AB-0147&keep=1", text, r.withToken)
	if code != 200 || !strings.Contains(body, "not measured in the job, as the sheet states it") || !strings.Contains(body, "Stand-in judged: step-down board may stand in") {
		t.Errorf("%d %s", code, body)
	}
	if _, page := r.ask("GET", "/api/v1/jobs/AB-0147/report", "", r.withToken); !strings.Contains(page, "The part that stands in") || !strings.Contains(page, "step-down board may stand in") {
		t.Error("the report does not tell what was judged")
	}
	if code, body := r.ask("GET", "/api/v1/jobs/AB-0147/standins", ""); code != 200 || strings.Count(body, `"candidate"`) != 2 || !strings.Contains(body, "none was measured in the warm-up") {
		t.Error(code, body)
	}
	if _, page := r.ask("GET", "/standin?kept=AB-0147", ""); !strings.Contains(page, "Heat, as the soak measured it") || !strings.Contains(page, "none was measured in the warm-up") {
		t.Error("the page does not tell what was kept")
	}
	if code, body := r.ask("POST", "/api/v1/standin?job=AB-0147", strings.Replace(text, "+5 2% logic", "+9 2% tape", 1), r.withToken); code != 400 || !strings.Contains(body, "another board") {
		t.Error(code, body)
	}
	if code, body := r.ask("POST", "/api/v1/acts", `{"verb":"judge stand-in","subject":"+5 V logic","text":"{}"}`, r.withToken); code == 200 {
		t.Error("a judgement of nothing was kept:", body)
	}
	if code, body := r.ask("GET", "/api/v1/limiter?"+url.Values{"source": {"325 V"}, "power": {"50 W"}, "ohms": {"880 ohm"}}.Encode(), ""); code != 200 || !strings.Contains(body, "Cannot tell with this limiter") {
		t.Error(code, body)
	}
}

func sameJSON(t *testing.T, v any) string {
	t.Helper()
	var back any
	b, err := json.Marshal(v)
	if err == nil {
		err = json.Unmarshal(b, &back)
	}
	if err == nil {
		b, err = json.Marshal(back)
	}
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// ringing is a capture of a start that goes over by exp(−πζ/√(1−ζ²)).
func ringing(zeta, volts float64) string {
	const w = 2 * math.Pi * 2e3
	root := math.Sqrt(1 - zeta*zeta)
	var b strings.Builder
	b.WriteString("Time (us),CH1 (V)\n")
	for i := range 2200 {
		at, v := float64(i-200)*1e-5, 0.0
		if at >= 0 {
			v = volts * (1 - math.Exp(-zeta*w*at)*(math.Cos(w*root*at)+zeta/root*math.Sin(w*root*at)))
		}
		fmt.Fprintf(&b, "%d,%.4f\n", (i-200)*10, v)
	}
	return b.String()
}

// A CSV of an oscilloscope becomes figures with verdicts; one that is of something
// else is refused with what to do.
func TestStandInCaptures(t *testing.T) {
	file, _ := configs.ParseStandIn("text", []byte(example(t)))
	judge := func(data, shows string) (standin.Judgement, error) {
		out, err := app.JudgeStandIns(t.Context(), file.Need, file.Candidates[:1], nil, []dashboards.WaveFile{{Shows: shows, Name: "start.csv", Data: []byte(data)}}, time.UTC)
		if err != nil {
			return standin.Judgement{}, err
		}
		return out.Judgements[0], nil
	}
	j, err := judge(ringing(0.2, 5), "")
	if err != nil || j.Word != standin.Unfit || !strings.Contains(j.Say, "overshoot") {
		t.Error(err, j.Say)
	}
	if j, err := judge(ringing(0.7, 5), "start"); err != nil || j.Word != standin.Fits {
		t.Error(err, j.Say)
	}
	for want, data := range map[string]string{
		"probe's factor": ringing(0.7, 0.5), "no table": "not a table\n", "in ampere": strings.Replace(ringing(0.7, 5), "(V)", "(A)", 1), "left the screen": strings.Replace(ringing(0.7, 5), "5.0", "9.9E37,", 1),
	} {
		if _, err := judge(data, "start"); err == nil {
			t.Errorf("%s: taken", want)
		}
	}
	if _, err := judge(ringing(0.7, 5), standin.ShowsStep); err == nil {
		t.Error("a start was taken for a load step")
	}
	waves := []dashboards.WaveFile{{Shows: "start", Name: "start.csv", Data: []byte(ringing(0.7, 5))}}
	_, err = app.JudgeStandIns(t.Context(), file.Need, file.Candidates, nil, waves, time.UTC)
	refused(t, "a capture for two candidates", err, dashboards.Invalid, "one converter", "name the one")
}

// A judgement that was kept comes back from its act.
func TestStandInActsComeBack(t *testing.T) {
	file, _ := configs.ParseStandIn("text", []byte(example(t)))
	j := standin.Judge(file.Need, file.Candidates[0], standin.Scope{})
	acts, err := app.StandInActs([]standin.Judgement{j})
	if err != nil || len(acts) != 1 {
		t.Fatal(err)
	}
	back, ok := acts[0].StandIn()
	var e standin.Estimate
	if !ok || back.Say != j.Say || len(back.Checks) != len(j.Checks) || back.Point != "stand-in case" || json.Unmarshal(back.Estimate, &e) != nil || e != *j.Estimate {
		t.Errorf("%+v", back)
	}
	if _, ok := (capture.Act{Verb: capture.ActNote, Text: acts[0].Text}).StandIn(); ok {
		t.Error("a note was read as a judgement")
	}
}
