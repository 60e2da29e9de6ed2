package dashboards

import (
	"context"
	"encoding/json"
	"net/http/httptest"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/capture/live"
)

type document struct {
	Paths map[string]map[string]struct {
		Security    []map[string][]string
		RequestBody struct {
			Content map[string]struct{ Schema schema }
		}
		Responses map[string]struct {
			Content map[string]struct{ Schema schema }
		}
	}
	Components struct{ Schemas map[string]schema }
}

type schema struct {
	Ref        string `json:"$ref"`
	Type       string
	Properties map[string]schema
	Required   []string
	Items      *schema
	AnyOf      []schema
}

func readDocument(t *testing.T) document {
	t.Helper()
	var d document
	if err := json.Unmarshal(openAPIDocument, &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// Every route is in the document, and every route of the document exists; acts
// are marked as needing the token.
func TestDocumentAndRoutesAgree(t *testing.T) {
	d := readDocument(t)
	promised := map[string]bool{}
	for path, ops := range d.Paths {
		for method, op := range ops {
			promised[strings.ToUpper(method)+" "+path] = len(op.Security) > 0
		}
	}
	h := &handler{}
	for _, rt := range h.routes() {
		if !strings.HasPrefix(rt.path, "/api/") {
			continue
		}
		name := rt.method + " " + rt.path
		secured, ok := promised[name]
		if !ok {
			t.Errorf("%s is served and stands not in openapi.json", name)
		}
		if secured != rt.act {
			t.Errorf("%s: act %v, but openapi.json says %v", name, rt.act, secured)
		}
		delete(promised, name)
	}
	for name := range promised {
		t.Errorf("%s stands in openapi.json and is not served", name)
	}
}

// fits walks an answer along its schema: what is required is there, and what
// is there is described.
func (d document) fits(t *testing.T, where string, s schema, v any) {
	t.Helper()
	for s.Ref != "" {
		name := strings.TrimPrefix(s.Ref, "#/components/schemas/")
		s = d.Components.Schemas[name]
		if s.Type == "" && s.AnyOf == nil {
			t.Fatalf("%s: schema %s is missing", where, name)
		}
	}
	if s.AnyOf != nil {
		if v == nil {
			return
		}
		s = s.AnyOf[0]
		d.fits(t, where, s, v)
		return
	}
	switch x := v.(type) {
	case map[string]any:
		if s.Properties == nil {
			return // an object that is described elsewhere
		}
		for _, need := range s.Required {
			if _, ok := x[need]; !ok {
				t.Errorf("%s: %s is promised and missing", where, need)
			}
		}
		for k, inner := range x {
			p, ok := s.Properties[k]
			if !ok {
				t.Errorf("%s: %s is answered and not described", where, k)
				continue
			}
			d.fits(t, where+"."+k, p, inner)
		}
	case []any:
		if s.Type != "array" || s.Items == nil {
			t.Errorf("%s: a list where %q was promised", where, s.Type)
			return
		}
		for _, inner := range x {
			d.fits(t, where+"[]", *s.Items, inner)
		}
	case string:
		want(t, where, s, "string")
	case bool:
		want(t, where, s, "boolean")
	case float64:
		if s.Type != "integer" {
			want(t, where, s, "number")
		}
	}
}

func want(t *testing.T, where string, s schema, kind string) {
	t.Helper()
	if s.Type != kind {
		t.Errorf("%s: a %s where %q was promised", where, kind, s.Type)
	}
}

func TestAnswersAreWhatTheDocumentSays(t *testing.T) {
	d := readDocument(t)
	h := New(Options{Bench: paperBench{}, Health: PaperExaminer{}, Walk: walkOnPaper{}, Limiter: limiterOnPaper, StandInsKept: keptOnPaper, Entries: paperEntries{}, Isolate: PaperIsolator{}, Cold: paperCold{}, Token: "t", Plan: func(capture.SoakQuestion) (capture.SoakPlan, error) {
		return capture.SoakPlan{Confidence: .95, FailedEvery: 1, Clean: 3, Dip: &capture.DipPlan{Length: .05, Depth: .5, Aperture: .02, Every: .2, Seen: .3, Clean: 10, Sure: .2}, Cycles: 59, Warm: 1, Planned: 4, Say: []string{"s"}}, nil
	}, Soak: paperSoak{}, Trim: func(string, string) (capture.Trimming, error) { return fullTrimming(), nil }})
	for path, ops := range d.Paths {
		op, ok := ops["get"]
		content, isJSON := op.Responses["200"].Content["application/json"]
		if !ok || !isJSON {
			continue
		}
		asked := strings.NewReplacer("{job}", "AB-0147", "{board}", "supply").Replace(path)
		if path == "/api/v1/readings" {
			asked += "?rail=x"
		}
		if path == "/api/v1/limiter" {
			asked += "?source=325&power=18&ohms=120"
		}
		if path == "/api/v1/discharge/card" {
			asked += "?ohms=2.2k"
		}
		if path == "/api/v1/placements/check" {
			asked += "?channel=dmm/volts"
		}
		w := httptest.NewRecorder()
		r := httptest.NewRequest("GET", "http://127.0.0.1"+asked, nil)
		r.RemoteAddr = "127.0.0.1:1"
		r.Header.Set("Authorization", "Bearer t")
		h.ServeHTTP(w, r)
		var v any
		if err := json.Unmarshal(w.Body.Bytes(), &v); w.Code != 200 || err != nil {
			t.Errorf("%s: %d %v %s", asked, w.Code, err, w.Body)
			continue
		}
		d.fits(t, path, content.Schema, v)
	}
}

// paperBench answers everything with one filled example.
type paperBench struct{ Bench }

func (paperBench) Snapshot() live.Snapshot {
	rail := capture.Rail{Name: "x", Nominal: 5, Target: 5, Bounds: capture.Bounds{Low: 4.9, High: 5.1}, Point: "TP5", Return: "0 V", Side: capture.Secondary, ShortBelow: 5, ResetBelow: 4, MinLoad: .1, FedFrom: "y", Feeds: []string{"z"}}
	place := capture.Placement{Channel: "dmm/volts", Rail: "x", Point: "TP5", Return: "0 V", Hold: capture.Clipped, By: "me", Corrects: 1, Why: "wrong clip"}
	last := &live.Last{At: 9, Reading: capture.Reading{Channel: "dmm/volts", Quantity: capture.DCVoltage, Value: 5.02, Resolution: .01, Ordinal: 3}}
	alarm := capture.Transition{At: 5, Alarm: "a@5", Rule: "a", Kind: "band", Rail: "x", Raised: 5, Say: "x low", Advice: "look", Value: 4, Limit: 4.9, Unit: "V", Channel: "dmm/volts", Evidence: []capture.Instant{5}, Muted: "m", By: "me"}
	act := capture.Act{Verb: capture.ActNote, Subject: "s", Stage: capture.Trim, Text: "t", Value: 1, By: "me"}
	return live.Snapshot{Now: 10, Bench: "east", Speed: 1, Version: 2,
		Jobs: []live.JobView{{
			Sheet: capture.Sheet{Job: "AB-0147", Set: "s", Board: "b", SerialNumber: "1", Customer: "c", Symptom: "d", Indication: "i", Technician: "t", Bench: "east", Simulated: true, Rails: []capture.Rail{rail}, NotChecked: []string{"n"}},
			Stage: capture.Soak, StageSince: 1, Stages: []capture.StageSpan{{Stage: capture.Soak, From: 1, Reason: "r"}}, Soak: &live.SoakView{From: 1, Planned: 60},
			Rails:   []live.RailView{{Rail: rail, Volts: last, Ohms: last, Live: true, Placement: place, Verdicts: []capture.Verdict{{Rule: "a", Kind: "band", Outcome: capture.Pass, Say: "Inside", Uncertainty: .1, Indicated: true, Channel: "dmm/volts", N: 3}}}},
			Points:  []live.PointView{{Channel: "dmm/volts", Placement: place, Last: last}},
			Alarms:  []capture.Transition{alarm},
			Past:    []capture.Transition{alarm},
			Entries: []capture.Entry{{At: 4, Stage: capture.Trim, Act: act, Text: "t"}},
		}},
		Channels:    []live.ChannelView{{Info: capture.ChannelInfo{ID: "dmm/volts", Quantity: capture.DCVoltage}, Job: "AB-0147", Last: last, Outcomes: map[string]uint64{"good": 1}, Selected: true, Exchange: .1}},
		Instruments: []live.InstrumentView{{Info: capture.InstrumentInfo{Name: "dmm"}, Up: true, Problem: "p", Resyncs: 1}},
		Notifiers:   []live.NotifierView{{Name: "shop", Kind: "webhook", Queued: 1, Sent: 2, Failed: 3, Urgent: 1, Problem: "refused", Tried: true, Failing: 1}, {Name: "terminal"}},
	}
}

func (paperBench) MayPlace(context.Context, string, capture.Placement) (MayPlace, error) {
	return MayPlace{Job: "AB-0147", Say: "s", Loop: []string{"l"}, Advice: "a", Cautions: []string{"c"}}, nil
}

func (paperBench) Jobs(context.Context) ([]JobSummary, error) {
	return []JobSummary{{Job: "AB-0147", Set: "s", Board: "b", Symptom: "d", Stage: capture.Soak, Opened: 1, Closed: 2, Bytes: 3}}, nil
}

func (paperBench) Series(context.Context, string, string, capture.Quantity, capture.Instant, capture.Instant, int) ([]capture.Bucket, error) {
	return []capture.Bucket{{From: 1, To: 2, N: 1}, {From: 2, To: 3}}, nil
}

func (b paperBench) Transitions(context.Context, string) ([]capture.Transition, error) {
	return b.Snapshot().Jobs[0].Alarms, nil
}
