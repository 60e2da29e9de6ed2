package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"strings"
	"time"

	"rsc.io/qr"
)

// Handover is the page for a phone that is open.
type Handover struct {
	URL         string
	Fingerprint string
	Ends        time.Time
	Received    int
}

// Phone is what the page for a phone shows.
type Phone struct {
	Job, Said, Wrong, Nonce string
}

// Phone writes the page for a phone.
func (p *Pages) Phone(w io.Writer, m Phone) error {
	var b bytes.Buffer
	if err := p.t.ExecuteTemplate(&b, "phone", m); err != nil {
		return fmt.Errorf("draw the page for a phone: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// quiet is the white edge that a reader needs, in modules (ISO/IEC 18004, 6.3.8).
const quiet = 4

// QR draws the address as a code that a camera reads: one path of squares. Error
// correction M; empty when the address is too long for a code.
func (h Handover) QR() template.HTML {
	code, err := qr.Encode(h.URL, qr.M)
	if err != nil {
		return ""
	}
	var path strings.Builder
	for y := range code.Size {
		for x := range code.Size {
			if code.Black(x, y) {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x+quiet, y+quiet)
			}
		}
	}
	side := code.Size + 2*quiet
	return template.HTML(fmt.Sprintf(`<svg class="qr" viewBox="0 0 %d %d" role="img" aria-label="Code for the phone"><rect width="%d" height="%d" fill="#fff"/><path fill="#000" shape-rendering="crispEdges" d="%s"/></svg>`,
		side, side, side, side, path.String())) // digits and letters of ours
}

// Print is the fingerprint in groups that eyes can compare, four to a line.
func (h Handover) Print() []string {
	var out []string
	for rest := h.Fingerprint; rest != ""; {
		n := min(12, len(rest))
		out = append(out, strings.TrimSuffix(rest[:n], ":"))
		rest = rest[n:]
	}
	return out
}

// HandoverEnds says when it ends, by the wall clock.
func (v *view) HandoverEnds() string { return v.Handover.Ends.In(v.zone).Format("15:04:05") }
