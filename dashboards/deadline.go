package dashboards

import (
	"errors"
	"net/http"
	"os"
	"time"
)

// bodyTime is how long a body may take to come: an act is small, and one who
// sends it byte by byte would hold a goroutine for each connection.
const bodyTime = 10 * time.Second

// timed gives the body of a request a deadline of its own. The server lifts it
// when the body has come, so that what it asks for (an act on an instrument) may
// last; the event stream has no body and no deadline.
func (h *handler) timed(w http.ResponseWriter, r *http.Request) {
	if r.Body == nil || r.Body == http.NoBody {
		return
	}
	within := h.opts.BodyTime
	if within == 0 {
		within = bodyTime
	}
	// An error says that no net/http server serves it: there is no connection to hold.
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(within))
}

// tooSlow reports whether a body did not come in time.
func tooSlow(err error) bool { return errors.Is(err, os.ErrDeadlineExceeded) }
