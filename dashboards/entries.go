package dashboards

import (
	"context"
	"mime"
	"net/http"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

// Entries keeps what stands beside readings. In every method an empty job means
// the one opened last. All methods must be safe for concurrent use and return
// errors of type [*Error] where they know the kind.
type Entries interface {
	// Enclose takes in a picture or a sound, told by its content, and records it.
	// It is on the disk when Enclose returns.
	Enclose(ctx context.Context, job string, f File) (Result, error)
	// Enclosure returns the content of a hash of a job, open or closed; small: of a
	// picture a JPEG that fits a page.
	Enclosure(ctx context.Context, job, hash string, small bool) (kind string, data []byte, err error)
	// EraseEnclosure takes a picture or sound out for privacy. Its hash stays, and why.
	EraseEnclosure(ctx context.Context, job, hash, why string) (Result, error)
	// SetSheet completes the sheet of an open job.
	SetSheet(ctx context.Context, job string, c SheetChange) (Result, error)
	// JobEntries returns the entries of a job, open or closed, oldest first.
	JobEntries(ctx context.Context, job string) (name string, entries []capture.Entry, err error)
	// Returned compares the job with the one before of the same serial number; nil:
	// there is none.
	Returned(ctx context.Context, job string) (*capture.Return, error)
	// Handover opens a page for a phone, or tells of the one that is open.
	Handover(ctx context.Context, job string, minutes int, address string) (Handover, error)
	// OpenHandover tells of the one that is open; ok is false when none is.
	OpenHandover(job string) (h Handover, ok bool)
	// EndHandover closes it.
	EndHandover(job string) (Result, error)
}

// File is a picture or a sound that somebody sends.
type File struct {
	Data []byte
	Of   string // what it is of
	By   string
}

// SheetChange is what is new on a sheet; nil leaves a line as it is.
type SheetChange struct {
	Set          *string `json:"set"`
	Board        *string `json:"board"`
	SerialNumber *string `json:"serial_number"`
	Customer     *string `json:"customer"`
	Symptom      *string `json:"symptom"`
	Indication   *string `json:"indication"`
	Technician   *string `json:"technician"`
}

// Handover is a page that a phone can reach for a while.
type Handover struct {
	Job         string    `json:"job"`
	URL         string    `json:"url"` // carries the one-time token
	Fingerprint string    `json:"fingerprint"`
	Ends        time.Time `json:"ends"`
	Received    int       `json:"received"` // files so far
}

// entryMore is what an entry may be besides a note and a value read by eye.
type entryMore struct {
	Finding    string          `json:"finding"`
	Indication string          `json:"indication"` // what the set says of itself
	Part       *capture.Fitted `json:"part"`
	Of         string          `json:"of"` // what a finding is about, where a part sits
}

// act returns the act of a finding, an indication or a part; nil: it is none.
func (e entryMore) act() *capture.Act {
	switch {
	case e.Part != nil:
		p := *e.Part
		if p.Quantity == 0 {
			p.Quantity = 1
		}
		a := p.Act(e.Of, "")
		return &a
	case e.Finding != "":
		return &capture.Act{Verb: capture.ActFinding, Subject: e.Of, Text: e.Finding}
	case e.Indication != "":
		return &capture.Act{Verb: capture.ActIndication, Text: e.Indication}
	}
	return nil
}

// isFile reports a body that is a picture or a sound, not a document.
func isFile(r *http.Request) bool {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	family, _, _ := strings.Cut(kind, "/")
	return family == "image" || family == "audio" || family == "video" || kind == "application/octet-stream"
}

// entryBody reads the body of what is asked of the entries. False: it was answered
// already, that it cannot be read or that this daemon keeps none.
func (h *handler) entryBody(w http.ResponseWriter, r *http.Request, into any) bool {
	err := read(r, into)
	if err == nil && h.opts.Entries == nil {
		err = noEntries
	}
	if err != nil {
		h.fail(w, r, err)
	}
	return err == nil
}

type whyBody struct {
	Why string `json:"why"`
}

func (h *handler) deleteEnclosure(w http.ResponseWriter, r *http.Request) {
	var b whyBody
	if !h.entryBody(w, r, &b) {
		return
	}
	res, err := h.opts.Entries.EraseEnclosure(r.Context(), r.PathValue("job"), r.PathValue("hash"), b.Why)
	h.done(w, r, http.StatusOK, res, err)
}

func (h *handler) postSheet(w http.ResponseWriter, r *http.Request) {
	var c SheetChange
	if !h.entryBody(w, r, &c) {
		return
	}
	res, err := h.opts.Entries.SetSheet(r.Context(), r.PathValue("job"), c)
	h.done(w, r, http.StatusOK, res, err)
}

// formSheet completes the sheet from a page: a line that is left empty there was
// empty, or is taken off.
func (h *handler) formSheet(w http.ResponseWriter, r *http.Request) {
	if h.opts.Entries == nil {
		h.back(w, r, noEntries)
		return
	}
	_ = r.ParseForm() // the nonce was read from it
	field := func(name string) *string {
		if !r.PostForm.Has(name) {
			return nil
		}
		s := strings.TrimSpace(r.PostForm.Get(name))
		return &s
	}
	c := SheetChange{Set: field("set"), SerialNumber: field("serial_number"), Customer: field("customer"), Symptom: field("symptom")}
	_, err := h.opts.Entries.SetSheet(r.Context(), r.PostForm.Get("job"), c)
	h.back(w, r, err)
}

func (h *handler) getReturned(w http.ResponseWriter, r *http.Request) {
	if h.opts.Entries == nil {
		h.fail(w, r, noEntries)
		return
	}
	out, err := h.opts.Entries.Returned(r.Context(), r.PathValue("job"))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	h.answer(w, r, http.StatusOK, map[string]any{"returned": out})
}

// addReturn has the Job page compare with the job before.
func (h *handler) addReturn(ctx context.Context, m *web.Model) {
	if j, ok := m.Snapshot.Job(m.Job); ok && h.opts.Entries != nil {
		m.Return, _ = h.opts.Entries.Returned(ctx, j.Sheet.Job) // a page without it is better than none
	}
}

// addHandover has the Job page show the page for a phone. Its address carries a
// secret: only who may act sees it.
func (h *handler) addHandover(m *web.Model) {
	if h.opts.Entries == nil {
		return
	}
	m.Files = true
	j, ok := m.Snapshot.Job(m.Job)
	if !ok || !m.Unlocked {
		return
	}
	if o, ok := h.opts.Entries.OpenHandover(j.Sheet.Job); ok {
		m.Handover = &web.Handover{URL: o.URL, Fingerprint: o.Fingerprint, Ends: o.Ends, Received: o.Received}
	}
}
