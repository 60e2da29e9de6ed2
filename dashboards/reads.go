package dashboards

import (
	_ "embed"
	"net/http"
	"strconv"
	"time"

	"steadyrail/capture"
)

// The bounds of what /readings answers.
const (
	defaultPoints = 500
	maxPoints     = 2000
)

func (h *handler) getRails(w http.ResponseWriter, r *http.Request) {
	b, err := benchOf(h.opts.Bench.Snapshot(), r.URL.Query().Get("job"))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, b)
}

// readingsShape is a series and how it was reduced.
type readingsShape struct {
	Job      string           `json:"job"`
	Rail     string           `json:"rail"`
	Quantity capture.Quantity `json:"quantity"`
	Unit     string           `json:"unit"`
	From     capture.Instant  `json:"from"` // 0: the beginning of the job
	To       capture.Instant  `json:"to"`
	Points   int              `json:"points"`
	Reduced  string           `json:"reduced"`
	Buckets  []bucketShape    `json:"buckets"`
}

// bucketShape is a bucket without numbers where nothing was read.
type bucketShape struct {
	From capture.Instant `json:"from"`
	To   capture.Instant `json:"to"`
	N    int             `json:"n"`
	Bad  int             `json:"bad"`
	Min  *float64        `json:"min"`
	Max  *float64        `json:"max"`
	Mean *float64        `json:"mean"`
	Last *float64        `json:"last"`
}

const howReduced = "each bucket holds the least, the greatest, the mean and the last of its n readings; least and greatest are exact, so that no dip is averaged away; a bucket with n 0 is a hole"

func (h *handler) getReadings(w http.ResponseWriter, r *http.Request) {
	out, err := h.readings(r)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, out)
}

func (h *handler) readings(r *http.Request) (out readingsShape, err error) {
	q := r.URL.Query()
	out = readingsShape{Job: q.Get("job"), Rail: q.Get("rail"), Quantity: capture.DCVoltage, Points: defaultPoints, Reduced: howReduced, Buckets: []bucketShape{}}
	if out.Rail == "" {
		return out, &Error{Kind: Invalid, Detail: "which rail?", Hint: "name it: /api/v1/readings?rail=%2B5%20V%20logic (a plus sign in an address is written %2B)"}
	}
	if s := q.Get("quantity"); s != "" {
		if out.Quantity, err = capture.ParseQuantity(s); err != nil {
			return out, &Error{Kind: Invalid, Err: err}
		}
	}
	if s := q.Get("points"); s != "" {
		if out.Points, err = strconv.Atoi(s); err != nil || out.Points < 1 {
			return out, &Error{Kind: Invalid, Detail: "points must be a whole number, 1 to " + strconv.Itoa(maxPoints) + ", not " + clip(s)}
		}
		out.Points = min(out.Points, maxPoints)
	}
	if out.From, err = instantOf(q.Get("from")); err != nil {
		return out, err
	}
	if out.To, err = instantOf(q.Get("to")); err != nil {
		return out, err
	}
	if out.To == 0 {
		out.To = h.opts.Bench.Snapshot().Now
	}
	if out.From >= out.To {
		return out, &Error{Kind: Invalid, Detail: "from must lie before to"}
	}
	out.Unit = out.Quantity.Unit().ASCII()
	buckets, err := h.opts.Bench.Series(r.Context(), out.Job, out.Rail, out.Quantity, out.From, out.To, out.Points)
	for _, b := range buckets {
		s := bucketShape{From: b.From, To: b.To, N: b.N, Bad: b.Bad}
		if b.N > 0 {
			s.Min, s.Max, s.Mean, s.Last = &b.Min, &b.Max, &b.Mean, &b.Last
		}
		out.Buckets = append(out.Buckets, s)
	}
	return out, err
}

// instantOf reads microseconds since 1970 or a time after RFC 3339; empty is 0.
func instantOf(s string) (capture.Instant, error) {
	if s == "" {
		return 0, nil
	}
	if us, err := strconv.ParseInt(s, 10, 64); err == nil && us >= 0 {
		return capture.Instant(us), nil
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return 0, &Error{Kind: Invalid, Detail: clip(s) + " is no time", Hint: "write microseconds since 1970, or 2026-11-25T03:17:42Z"}
	}
	return capture.InstantOf(t), nil
}

func (h *handler) getPlacements(w http.ResponseWriter, r *http.Request) {
	h.answer(w, r, http.StatusOK, map[string]any{"placements": placementsOf(h.opts.Bench.Snapshot())})
}

func (h *handler) getEntries(w http.ResponseWriter, r *http.Request) {
	job := r.URL.Query().Get("job")
	if h.opts.Entries != nil { // of closed jobs too, and all of them
		name, entries, err := h.opts.Entries.JobEntries(r.Context(), job)
		if err != nil {
			h.fail(w, r, err)
			return
		}
		h.answer(w, r, http.StatusOK, map[string]any{"job": name, "entries": append([]capture.Entry{}, entries...)})
		return
	}
	j, ok := h.opts.Bench.Snapshot().Job(job)
	if !ok {
		h.fail(w, r, noOpenJob(job))
		return
	}
	h.answer(w, r, http.StatusOK, map[string]any{"job": j.Sheet.Job, "entries": append([]capture.Entry{}, j.Entries...)})
}

func (h *handler) getAlarms(w http.ResponseWriter, r *http.Request) {
	job := r.URL.Query().Get("job")
	j, ok := h.opts.Bench.Snapshot().Job(job)
	if !ok && job != "" {
		h.fail(w, r, noOpenJob(job))
		return
	}
	h.answer(w, r, http.StatusOK, map[string]any{"job": j.Sheet.Job, "open": append([]capture.Transition{}, j.Alarms...), "courses": append([]capture.AlarmCourse{}, j.Courses...), "past": append([]capture.Transition{}, j.Past...), "mutes": append(capture.Mutes{}, j.Mutes...)})
}

func (h *handler) getJobs(w http.ResponseWriter, r *http.Request) {
	jobs, err := h.opts.Bench.Jobs(r.Context())
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, map[string]any{"jobs": append([]JobSummary{}, jobs...)})
}

// jobShape is an open job in full.
type jobShape struct {
	Sheet      capture.Sheet       `json:"sheet"`
	Stage      capture.Stage       `json:"stage"`
	StageSince capture.Instant     `json:"stage_since"`
	Stages     []capture.StageSpan `json:"stages"`
	Soak       *soakShape          `json:"soak"` // null when none was started
}

type soakShape struct {
	From    capture.Instant `json:"from"`
	To      capture.Instant `json:"to"` // 0 while it lasts
	Planned float64         `json:"planned_seconds"`
}

func (h *handler) getJob(w http.ResponseWriter, r *http.Request) {
	job := r.PathValue("job")
	j, ok := h.opts.Bench.Snapshot().Job(job)
	if !ok {
		h.fail(w, r, noOpenJob(job))
		return
	}
	out := jobShape{Sheet: j.Sheet, Stage: j.Stage, StageSince: j.StageSince, Stages: append([]capture.StageSpan{}, j.Stages...)}
	if j.Soak != nil {
		out.Soak = &soakShape{j.Soak.From, j.Soak.To, j.Soak.Planned}
	}
	h.answer(w, r, http.StatusOK, out)
}

func (h *handler) getTransitions(w http.ResponseWriter, r *http.Request) {
	job := r.PathValue("job")
	ts, err := h.opts.Bench.Transitions(r.Context(), job)
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, map[string]any{"job": job, "transitions": append([]capture.Transition{}, ts...)})
}

func (h *handler) getInstruments(w http.ResponseWriter, r *http.Request) {
	h.answer(w, r, http.StatusOK, map[string]any{"instruments": instrumentsOf(h.opts.Bench.Snapshot())})
}

//go:embed openapi.json
var openAPIDocument []byte

func (h *handler) openAPI(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(openAPIDocument)
}
