package wire

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"
)

// Recorder is a [Link] that writes down everything that goes over another one,
// in the form that [NewPlayer] reads. The rows of an exchange are written
// together when it ends. A recording that cannot be written never disturbs the
// link; [Recorder.Err] tells.
type Recorder struct {
	link Link

	mu    sync.Mutex
	w     io.Writer
	since func() time.Duration
	err   error
}

// NewRecorder starts a recording of link on w, with its header. Closing the
// Recorder closes the link; w stays open and belongs to the caller.
func NewRecorder(link Link, w io.Writer) *Recorder {
	start := time.Now()
	r := &Recorder{link: link, w: w, since: func() time.Duration { return time.Since(start) }}
	_, r.err = io.WriteString(w, recordingHeader+"\n")
	return r
}

// Err returns the first error of writing.
func (r *Recorder) Err() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.err
}

// Query passes the request on and writes both down.
func (r *Recorder) Query(ctx context.Context, request string) (string, error) {
	at := r.since()
	answer, err := r.link.Query(ctx, request)
	then := event{at: r.since(), mark: received, text: answer}
	if err != nil {
		then = event{at: then.at, mark: failed, text: faultOf(err).Error()}
	}
	r.write(event{at: at, mark: sent, text: request}, then)
	return answer, err
}

// Exchange passes the bytes on and writes both down.
func (r *Recorder) Exchange(ctx context.Context, request []byte, split Split) ([]byte, error) {
	return r.exchanged(ctx, request, split, r.link.Exchange)
}

func (r *Recorder) exchanged(ctx context.Context, request []byte, split Split, by func(context.Context, []byte, Split) ([]byte, error)) ([]byte, error) {
	at := r.since()
	answer, err := by(ctx, request, split)
	then := event{at: r.since(), mark: bytesIn, text: fmt.Sprintf("% x", answer)}
	if err != nil {
		then = event{at: then.at, mark: failed, text: faultOf(err).Error()}
	}
	r.write(event{at: at, mark: bytesOut, text: fmt.Sprintf("% x", request)}, then)
	return answer, err
}

// Whereabouts are those of the link that is recorded.
func (r *Recorder) Whereabouts() Whereabouts { return WhereaboutsOf(r.link) }

// Send passes the request on and writes it down.
func (r *Recorder) Send(ctx context.Context, request string) error {
	at := r.since()
	err := r.link.Send(ctx, request)
	events := []event{{at: at, mark: sent, text: request}}
	if err != nil {
		events = append(events, event{at: r.since(), mark: failed, text: faultOf(err).Error()})
	}
	r.write(events...)
	return err
}

// Drain passes it on and writes it down when it went well.
func (r *Recorder) Drain(ctx context.Context) error {
	at := r.since()
	err := r.link.Drain(ctx)
	if err == nil {
		r.write(event{at: at, mark: drained})
	}
	return err
}

// Close closes the link that is recorded.
func (r *Recorder) Close() error { return r.link.Close() }

// Abandon closes it without a word, for the function of this name.
func (r *Recorder) Abandon() error { return Abandon(r.link) }

func (r *Recorder) write(events ...event) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, e := range events {
		if r.err == nil {
			_, r.err = fmt.Fprintln(r.w, e)
		}
	}
}

// faultOf names an error for the recording; what has no name counts as closed.
func faultOf(err error) error {
	for _, f := range faults {
		if errors.Is(err, f) {
			return f
		}
	}
	return ErrClosed
}
