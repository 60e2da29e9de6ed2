package dashboards

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"steadyrail/capture/live"
	"steadyrail/dashboards/web"
)

// The pace of the stream, in wall time.
const (
	closest   = 100 * time.Millisecond // between two events to one browser
	ageing    = time.Second            // ages grow although nothing changed
	heartbeat = 15 * time.Second       // a comment when there was nothing to say
	eventTime = 5 * time.Second        // a browser that takes longer to accept an event is let go
	histories = 5 * time.Second        // the history is drawn again
	searches  = time.Second            // a fault is looked for again
)

// stream sends server-sent events: the newest state, never a queue. With
// ?page= an event carries the parts of that page that differ from those sent
// before; without it, the bench in short. An event's id is the version of the
// state, so that a browser that comes back with Last-Event-ID is told only
// what is new to it.
func (h *handler) stream(w http.ResponseWriter, r *http.Request) {
	page := r.URL.Query().Get("page")
	if page != "" && !web.Has(page) {
		h.fail(w, r, &Error{Kind: NotFound, Detail: "there is no page " + clip(page)})
		return
	}
	select {
	case h.streams <- struct{}{}:
		defer func() { <-h.streams }()
	default:
		h.fail(w, r, &Error{Kind: Unavailable, Detail: fmt.Sprintf("%d browsers listen already", maxStreams), Hint: "close a page"})
		return
	}
	s := &streamer{h: h, r: r, w: w, page: page, rc: http.NewResponseController(w), sent: map[string]string{}}
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no")
	w.WriteHeader(http.StatusOK)
	s.run(r.Context(), r.Header.Get("Last-Event-ID"))
}

type streamer struct {
	h        *handler
	r        *http.Request
	w        http.ResponseWriter
	rc       *http.ResponseController
	page     string
	sent     map[string]string // parts as they stand in the browser
	drawn    time.Time         // when the history was drawn
	searched time.Time         // when a fault was looked for
	found    web.Isolating
	lastSent time.Time
}

func (s *streamer) run(ctx context.Context, lastID string) {
	changed, cancel := s.h.opts.Bench.Subscribe()
	defer cancel()
	tick := time.NewTicker(ageing)
	defer tick.Stop()
	if s.send("retry: 1000\n\n") != nil {
		return
	}
	if lastID == "" || lastID != s.id(s.h.opts.Bench.Snapshot()) {
		if s.event() != nil {
			return
		}
	}
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.h.opts.Done:
			return
		case <-changed:
		case <-tick.C:
			if s.page == "" {
				if time.Since(s.lastSent) >= heartbeat && s.send(": nothing new\n\n") != nil {
					return
				}
				continue
			}
		}
		if s.event() != nil {
			return
		}
		if !pause(ctx, s.h.opts.Done, closest) {
			return
		}
	}
}

// pause keeps events apart; it reports false when the stream must end.
func pause(ctx context.Context, done <-chan struct{}, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
	case <-done:
	}
	return false
}

func (s *streamer) id(snap live.Snapshot) string { return fmt.Sprintf("%s-%d", s.h.boot, snap.Version) }

// event sends the present state.
func (s *streamer) event() error {
	if s.page == "" {
		snap := s.h.opts.Bench.Snapshot()
		b, err := benchOf(snap, s.r.URL.Query().Get("job"))
		if err != nil {
			return err
		}
		return s.write("bench", s.id(snap), b)
	}
	q := s.r.URL.Query()
	m := s.h.model(s.r, s.page, q.Get("rail"), q.Get("span"))
	redraw := s.page != "rail" || time.Since(s.drawn) >= histories
	if redraw && s.page == "rail" {
		s.h.addHistory(s.r.Context(), &m)
		s.drawn = time.Now()
	}
	if s.page == "isolate" {
		if time.Since(s.searched) >= searches {
			s.found, s.searched = s.h.isolatingNow(s.r.Context(), m.Job), time.Now()
		}
		m.Isolating = &s.found
	}
	title, parts, err := s.h.pages.Parts(s.page, m)
	if err != nil {
		return err
	}
	for id, html := range parts {
		if s.sent[id] == html || id == "part-history" && !redraw {
			delete(parts, id)
			continue
		}
		s.sent[id] = html
	}
	j, _ := m.Snapshot.Job(m.Job)
	return s.write("page", s.id(m.Snapshot), map[string]any{"title": title, "job": j.Sheet.Job, "parts": parts})
}

func (s *streamer) write(event, id string, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return s.send("event: " + event + "\nid: " + id + "\ndata: " + string(b) + "\n\n")
}

// send gives each event its own deadline: a stopped browser must not hold a
// goroutine for ever.
func (s *streamer) send(text string) error {
	if err := s.rc.SetWriteDeadline(time.Now().Add(eventTime)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	if _, err := s.w.Write([]byte(text)); err != nil {
		return err
	}
	s.lastSent = time.Now()
	return s.rc.Flush()
}
