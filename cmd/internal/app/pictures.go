package app

import (
	"context"
	"slices"
	"sync"

	"steadyrail/capture/media"
	"steadyrail/capture/store"
)

// mostSmall bounds the small pictures in memory: about 60 kB each.
const mostSmall = 100

// pictures takes in pictures one at a time, for a large one takes much memory
// while it is decoded, and keeps small ones, oldest first. It is safe for
// concurrent use.
type pictures struct {
	one chan struct{} // room for one

	mu    sync.Mutex
	data  map[string][]byte
	order []string
}

func newPictures() *pictures {
	return &pictures{one: make(chan struct{}, 1), data: map[string][]byte{}}
}

// alone waits for its turn.
func (p *pictures) alone(ctx context.Context, f func() error) error {
	select {
	case p.one <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-p.one }()
	return f()
}

func (p *pictures) clean(ctx context.Context, data []byte) (f media.Found, err error) {
	err = p.alone(ctx, func() error {
		f, err = media.Clean(data)
		return err
	})
	return f, err
}

// small returns the small one of a picture, and keeps it.
func (p *pictures) small(ctx context.Context, hash string, data []byte) (out []byte, err error) {
	err = p.alone(ctx, func() error {
		out, err = media.Small(data, media.SmallSide)
		return err
	})
	if err == nil {
		p.keep(hash, out)
	}
	return out, err
}

// of returns the small pictures of a job, for its report.
func (p *pictures) of(ctx context.Context, f *store.Job) func(hash string) ([]byte, error) {
	return func(hash string) ([]byte, error) {
		if data, ok := p.kept(hash); ok {
			return data, nil
		}
		data, err := f.Enclosure(ctx, hash)
		if err != nil {
			return nil, err
		}
		return p.small(ctx, hash, data)
	}
}

func (p *pictures) keep(hash string, data []byte) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.data[hash] == nil {
		p.order = append(p.order, hash)
	}
	p.data[hash] = data
	if len(p.order) > mostSmall {
		delete(p.data, p.order[0])
		p.order = slices.Delete(p.order, 0, 1)
	}
}

func (p *pictures) kept(hash string) ([]byte, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	data, ok := p.data[hash]
	return data, ok
}

func (p *pictures) forget(hash string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.data, hash)
	p.order = slices.DeleteFunc(p.order, func(h string) bool { return h == hash })
}
