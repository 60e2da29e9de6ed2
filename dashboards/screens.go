package dashboards

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards/web"
)

// chartPoints is how many buckets the history of the Rail page asks for.
const chartPoints = 600

// page serves one of the screens.
func (h *handler) page(name string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		m := h.model(r, name, r.PathValue("rail"), r.URL.Query().Get("span"))
		if name == "rail" {
			h.addHistory(r.Context(), &m)
		}
		if name == "job" && h.opts.Plan != nil {
			m.Plans, m.Planned = true, h.planned(r)
		}
		if name == "job" {
			h.addReturn(r.Context(), &m)
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		if name == "rail" && m.Snapshot.Version != 0 && !hasRail(m.Snapshot, m.Job, m.Rail) {
			w.WriteHeader(http.StatusNotFound)
		}
		if err := h.pages.Render(w, name, m); err != nil {
			h.fail(w, r, err)
		}
	}
}

func hasRail(s live.Snapshot, job, rail string) bool {
	j, _ := s.Job(job)
	for _, rv := range j.Rails {
		if rv.Rail.Name == rail {
			return true
		}
	}
	return false
}

// model gathers what a page is drawn from.
func (h *handler) model(r *http.Request, page, rail, span string) web.Model {
	m := web.Model{Snapshot: h.opts.Bench.Snapshot(), Rail: rail, Span: knownSpan(span), Command: h.opts.Command, Zone: h.opts.Zone, Decimal: h.opts.Decimal, Path: "/"}
	asked := askedJob(r, m.Snapshot)
	m.Job = asked
	switch page {
	case "bench":
		m.Lows = h.opts.Bench.Lows(asked)
	case "rail":
		m.Path = "/rail/" + url.PathEscape(rail)
	case "rules":
		m.Path, m.KindInfo = "/rules", h.kinds(m.Snapshot, asked)
	case "discharge":
		m.Path = "/discharge"
		h.addCold(r, &m)
	case "walk":
		m.Path, m.Walk = "/walk", h.walkNow(r, asked)
	case "trim":
		m.Path, m.Trimming = trimPath(rail, asked), h.trimming(m.Snapshot, asked, rail)
	case "soak":
		m.Path, m.Soaking = "/soak", h.soaking(asked)
	case "alarms", "job", "standin", "isolate", "health", "reports":
		m.Path = "/" + page
	}
	if page != "trim" {
		m.Path += jobQuery(asked)
	}
	if s := h.session(r); s != "" {
		m.Unlocked, m.Nonce = true, h.keeper.nonce(s)
	}
	if page == "job" {
		h.addHandover(&m)
	}
	if (page == "job" || page == "bench") && h.opts.ColdAged != nil {
		m.Aged.Say, m.Aged.Do = h.opts.ColdAged(asked)
	}
	m.Simulated = h.opts.Hands != nil
	return m
}

// kinds lists the kinds of rule for the rails of the open job.
func (h *handler) kinds(s live.Snapshot, job string) []capture.KindInfo {
	if h.opts.Kinds == nil {
		return nil
	}
	var rails []capture.Rail
	j, _ := s.Job(job)
	for _, rv := range j.Rails {
		rails = append(rails, rv.Rail)
	}
	return h.opts.Kinds(rails)
}

func knownSpan(span string) string {
	for _, s := range web.Spans {
		if s.Key == span {
			return span
		}
	}
	return web.Spans[0].Key
}

// addHistory reads the record for spans that the live table does not hold. A
// record that cannot be read leaves the page with the last ten minutes.
func (h *handler) addHistory(ctx context.Context, m *web.Model) {
	for i, s := range web.Spans {
		if s.Key != m.Span || i == 0 {
			continue
		}
		m.To = m.Snapshot.Now
		if s.Length > 0 {
			m.From = m.To.Add(-s.Length)
		} else if j, ok := m.Snapshot.Job(m.Job); ok && len(j.Stages) > 0 {
			m.From = j.Stages[0].From
		}
		if b, err := h.opts.Bench.Series(ctx, m.Job, m.Rail, capture.DCVoltage, m.From, m.To, chartPoints); err == nil {
			m.History = b
		}
	}
}

// railInWork sends to the rail that was placed last, or to the first.
func (h *handler) railInWork(w http.ResponseWriter, r *http.Request) {
	rail, snap := r.URL.Query().Get("rail"), h.opts.Bench.Snapshot()
	job := askedJob(r, snap)
	if rail == "" {
		rail = inWork(snap, job)
	}
	if rail == "" {
		rail = "none"
	}
	http.Redirect(w, r, "/rail/"+url.PathEscape(rail)+jobQuery(job), http.StatusSeeOther)
}

// inWork names the rail with the newest reading that somebody holds a probe
// on; without one the newest at all.
func inWork(s live.Snapshot, job string) string {
	j, _ := s.Job(job)
	best, bestAt, bestHeld := "", capture.Instant(-1), false
	for _, rv := range j.Rails {
		at := capture.Instant(0)
		for _, l := range []*live.Last{rv.Volts, rv.Ohms} {
			if l != nil {
				at = max(at, l.At)
			}
		}
		held := rv.Live && rv.Placement.Hold == capture.Touched
		if held && !bestHeld || held == bestHeld && at > bestAt {
			best, bestAt, bestHeld = rv.Rail.Name, at, held
		}
	}
	return best
}

// report serves the self-contained report, which brings its own style.
func (h *handler) report(w http.ResponseWriter, r *http.Request) {
	out := &late{w: w, begin: func() {
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; frame-ancestors 'none'")
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
	}}
	h.finish(w, r, out, h.opts.Bench.Report(r.Context(), r.PathValue("job"), out))
}

// export serves the readings of a job as CSV; with decimal=comma for programs
// that read numbers so.
func (h *handler) export(w http.ResponseWriter, r *http.Request) {
	job := r.PathValue("job")
	mark, err := capture.ParseDecimalMark(r.URL.Query().Get("decimal"))
	if err != nil {
		h.fail(w, r, &Error{Kind: Invalid, Detail: "export job " + clip(job), Err: err})
		return
	}
	out := &late{w: w, begin: func() {
		w.Header().Set("Content-Type", "text/csv; charset=utf-8")
		w.Header().Set("Content-Disposition", "attachment; filename*=UTF-8''"+url.PathEscape(job)+".csv")
	}}
	h.finish(w, r, out, h.opts.Bench.ExportCSV(r.Context(), job, mark, out))
}

// finish answers for a body that was written as it came. Once the first byte
// is out the status cannot be mended: the connection is cut, so that nobody
// takes half a file for a whole one.
func (h *handler) finish(w http.ResponseWriter, r *http.Request, out *late, err error) {
	switch {
	case err == nil:
		_, _ = out.Write(nil)
	case out.begun:
		panic(http.ErrAbortHandler)
	default:
		h.fail(w, r, err)
	}
}

// writeBound is how long a far end may take to accept a piece of an answer.
const writeBound = 10 * time.Second

// late sends the head of an answer with its first byte, and renews the write
// deadline with each piece.
type late struct {
	w     http.ResponseWriter
	begin func()
	begun bool
}

func (l *late) Write(p []byte) (int, error) {
	if !l.begun {
		l.begun = true
		l.begin()
	}
	if err := http.NewResponseController(l.w).SetWriteDeadline(time.Now().Add(writeBound)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return 0, fmt.Errorf("set write deadline: %w", err)
	}
	return l.w.Write(p)
}

var _ io.Writer = (*late)(nil)

// problemPage shows a problem to a person.
func (h *handler) problemPage(w http.ResponseWriter, r *http.Request, p Problem) {
	back := "/"
	if r.Method == http.MethodPost && r.PostForm != nil {
		back = ownPath(r.PostForm.Get("back"))
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(p.Status)
	_ = h.pages.Problem(w, web.Trouble{Title: p.Title, Detail: p.Detail, Hint: p.Hint, Status: p.Status, Back: back, Locked: p.Status == http.StatusUnauthorized})
}
