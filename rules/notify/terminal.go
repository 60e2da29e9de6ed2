package notify

import (
	"context"
	"fmt"
	"io"
	"sync"
	"time"

	"steadyrail/capture"
)

// Terminal says each message in one line:
//
//	12:03:41 Urgent: +5 V logic collapsed: from 5.011 V to 3.087 V (AB-0147)
//
// It is safe for concurrent use and does not close its writer.
type Terminal struct {
	mu   sync.Mutex
	out  io.Writer
	zone *time.Location
}

// NewTerminal writes to out, with times in a zone; nil is UTC.
func NewTerminal(out io.Writer, zone *time.Location) *Terminal {
	if zone == nil {
		zone = time.UTC
	}
	return &Terminal{out: out, zone: zone}
}

// Name returns "terminal".
func (t *Terminal) Name() string { return "terminal" }

// Notify writes one line.
func (t *Terminal) Notify(_ context.Context, m Message) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	job := ""
	if m.Job != "" {
		job = " (" + m.Job + ")"
	}
	_, err := fmt.Fprintf(t.out, "%s %s%s%s\n", m.Alarm.At.Time().In(t.zone).Format(time.TimeOnly), lead(m.Alarm), m.Say(), job)
	if say := m.Lost.Say(); say != "" && err == nil {
		_, err = fmt.Fprintf(t.out, "         %s\n", say)
	}
	if err != nil {
		return fmt.Errorf("write to the terminal: %w: %w", ErrPermanent, err)
	}
	return nil
}

// lead begins the line by how grave it is, while it is there.
func lead(t capture.Transition) string {
	if !t.To.IsActive() {
		return ""
	}
	return [...]string{capture.Notice: "Notice: ", capture.Warning: "Warning: ", capture.Urgent: "Urgent: "}[t.Severity]
}
