package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"steadyrail/capture/store"
)

// bar shows on a terminal how far something long is. A nil bar shows nothing
// and may be used like any other. It is not safe for concurrent use.
type bar struct {
	w     io.Writer
	what  string
	total int64 // 0: not known
	done  int64
	drawn time.Time
	wrote int // characters of the line on the screen
}

// redraw is how often the line is written again at the most.
const redraw = 100 * time.Millisecond

// newBar returns a bar when somebody looks at stderr, else nil.
func newBar(s streams, what string, total int64) *bar {
	if !isTerminal(s.err) {
		return nil
	}
	return &bar{w: s.err, what: what, total: total}
}

// begin starts a new stretch of work.
func (b *bar) begin(what string, total int64) {
	if b != nil {
		b.what, b.total, b.done = what, total, 0
	}
}

// add counts n on and draws, not too often.
func (b *bar) add(n int64) {
	if b == nil || n == 0 {
		return
	}
	b.done += n
	if now := time.Now(); now.Sub(b.drawn) >= redraw {
		b.drawn = now
		b.draw()
	}
}

func (b *bar) draw() {
	line := fmt.Sprintf("%s  %d", b.what, b.done)
	if b.total > 0 {
		const width = 30
		part := min(1, float64(b.done)/float64(b.total))
		full := int(part * width)
		line = fmt.Sprintf("%s  |%s%s|  %3.0f %%", b.what, strings.Repeat("=", full), strings.Repeat(" ", width-full), 100*part)
	}
	fmt.Fprintf(b.w, "\r%s%s", line, strings.Repeat(" ", max(0, b.wrote-len(line))))
	b.wrote = len(line)
}

// finish takes the bar off the screen and returns err.
func (b *bar) finish(err error) error {
	if b != nil && b.wrote > 0 {
		fmt.Fprintf(b.w, "\r%s\r", strings.Repeat(" ", b.wrote))
		b.wrote = 0
	}
	return err
}

// lines returns a writer that counts the lines written to w.
func (b *bar) lines(w io.Writer) io.Writer {
	if b == nil {
		return w
	}
	return &lineCounter{w, b}
}

type lineCounter struct {
	io.Writer
	b *bar
}

func (c *lineCounter) Write(p []byte) (int, error) {
	n, err := c.Writer.Write(p)
	c.b.add(int64(bytes.Count(p[:n], []byte("\n"))))
	return n, err
}

// recordsOf is how many records a job has on the disk; 0: not known. A bar
// needs no more than that.
func recordsOf(ctx context.Context, path string) int64 {
	f, err := store.OpenFile(path)
	if err != nil {
		return 0
	}
	defer f.Close(ctx)
	head, err := f.Head(ctx)
	if err != nil {
		return 0
	}
	return int64(head.Count)
}
