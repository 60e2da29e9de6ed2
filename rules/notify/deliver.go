package notify

import (
	"context"
	"errors"
	"time"
)

// take moves what is to be told next from the queue to being under way. While a
// storm is being gathered there is nothing, and hold says for how long.
func (l *lane) take() (m Message, hold time.Duration, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.queue) == 0 {
		return Message{}, 0, false
	}
	n := 1
	if l.follow == nil {
		n, hold = l.storm.next(time.Now(), len(l.queue), l.closed)
	}
	if n == 0 {
		return Message{}, hold, false
	}
	m = grouped(l.queue[:n])
	clear(l.queue[:n])
	l.queue = l.queue[n:]
	l.stat.Queued = n
	return m, 0, true
}

func (l *lane) deliver(ctx context.Context, m Message) {
	began, wait := time.Now(), l.o.FirstWait
	for {
		err := l.attempt(ctx, &m)
		last := l.isClosed() || time.Since(began)+wait > l.o.GiveUp || errors.Is(err, ErrPermanent)
		if l.settle(ctx, m, err, last) {
			return
		}
		l.pause(ctx, max(l.o.Jitter(wait), asked(err, l.o.LongWait)))
		wait = min(2*wait, l.o.LongWait)
	}
}

// attempt tries once. The message says what was lost before it.
func (l *lane) attempt(ctx context.Context, m *Message) error {
	ctx, cancel := context.WithTimeout(ctx, l.o.Attempt)
	defer cancel()
	l.mu.Lock()
	m.Lost = l.lost
	l.mu.Unlock()
	return l.to.Notify(ctx, *m)
}

// settle counts an attempt and reports whether the message is done with. One
// that was under way when everything was cancelled stays queued, to be counted
// as left over.
func (l *lane) settle(ctx context.Context, m Message, err error, last bool) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	n := len(m.each())
	l.note(err)
	switch {
	case err == nil:
		// What was pushed out meanwhile is told with the next one: m was told
		// of the losses before it.
		l.stat.Sent, l.stat.Queued, l.lost = l.stat.Sent+uint64(n), 0, l.lost.minus(m.Lost)
		return true
	case ctx.Err() != nil:
		return true
	case last:
		l.stat.Failed, l.stat.Queued = l.stat.Failed+uint64(n), 0
		l.lose(m)
		if l.closed {
			l.left, l.leftErr = l.left+n, err
		}
		return true
	}
	l.stat.Retries++
	return false
}

// pause waits before the next attempt; closing, and a test that arrived, cut it
// short.
func (l *lane) pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	for !l.isClosed() {
		select {
		case <-t.C:
			return
		case <-ctx.Done():
			return
		case try := <-l.tests:
			if l.try(ctx, try) == nil {
				return
			}
		case <-l.wake:
		}
	}
}

// tryout is a test message on its way to the lane's goroutine.
type tryout struct {
	ctx    context.Context
	m      Message
	answer chan<- tried // has room for one
}

type tried struct {
	took time.Duration
	err  error
}

// test hands a message to the lane's goroutine and waits for what came of it.
func (l *lane) test(ctx context.Context, m Message) (time.Duration, error) {
	answer := make(chan tried, 1)
	select {
	case l.tests <- tryout{ctx, m, answer}:
	case <-l.ended:
		return 0, ErrClosed
	case <-ctx.Done():
		return 0, ctx.Err()
	}
	got := <-answer
	return got.took, got.err
}

// try makes the one attempt of a test.
func (l *lane) try(ctx context.Context, t tryout) error {
	within, cancel := context.WithTimeout(t.ctx, l.o.Attempt)
	defer cancel()
	defer context.AfterFunc(ctx, cancel)()
	began := time.Now()
	err := l.to.Notify(within, t.m)
	// Answered last: whoever asked goes then, and a test that nobody waits for
	// any more says nothing about the receiver.
	took := time.Since(began)
	defer func() { t.answer <- tried{took, err} }()
	if t.ctx.Err() != nil || ctx.Err() != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.note(err)
	if err == nil {
		l.stat.Tests++
	}
	return err
}
