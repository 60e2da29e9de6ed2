package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"unicode/utf8"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/media"
	"steadyrail/capture/store"
	"steadyrail/dashboards"
)

// Enclose takes in a picture or a sound and records it. The content is on the
// disk before the act that names it, and both are when Enclose returns.
func (a *App) Enclose(ctx context.Context, id string, f dashboards.File) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Result{}, err
	}
	const what = "keep a picture or sound"
	if !utf8.ValidString(f.Of) || len(f.Of) > 400 {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: what + ": say in 400 bytes of UTF-8 what it is of"}
	}
	found, err := a.pictures.clean(ctx, f.Data)
	if err != nil {
		return dashboards.Result{}, mediaProblem(what, err)
	}
	if f.By == "" {
		f.By = j.book.Sheet().Technician
	}
	hash := sum256(found.Data)
	act := enclosing(found, hash, a.clock.Now())
	act.Subject, act.By = strings.TrimSpace(f.Of), f.By
	if err := j.book.Check(act); err != nil { // first: a content that nothing names is one that nobody can erase
		return dashboards.Result{}, problem(what, err)
	}
	var at capture.Instant
	err = a.pictures.alone(ctx, func() error { // the same content is not erased between the two
		if _, err := j.file.Enclose(ctx, found.Data); err != nil {
			return err
		}
		at, err = a.bus.Post(j.id, act)
		return err
	})
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	if found.Picture() {
		a.pictures.keep(hash, found.Small)
	}
	return dashboards.Result{Job: j.id, At: at, Say: job.Entry(act) + a.durable(ctx, j)}, nil
}

func sum256(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// enclosing is the act that names a content.
func enclosing(f media.Found, hash string, now capture.Instant) capture.Act {
	e := capture.Enclosure{Hash: hash, Type: f.Type, Bytes: len(f.Data), Width: f.Width, Height: f.Height, Taken: now, Received: true}
	if at, ok := capture.ParseCamera(f.Clock, f.Offset); ok {
		e.Taken, e.Received = at, false
	} else {
		e.Camera = f.Clock
	}
	text, _ := json.Marshal(e) // texts and numbers: cannot fail
	verb := capture.ActSound
	if f.Picture() {
		verb = capture.ActPicture
	}
	return capture.Act{Verb: verb, Text: string(text)}
}

func mediaProblem(what string, err error) error {
	kind := dashboards.Invalid
	if errors.Is(err, media.ErrTooLarge) {
		kind = dashboards.TooLarge
	}
	return &dashboards.Error{Kind: kind, Detail: what, Err: err}
}

// durable has what was posted on the disk before anyone is told that it is done.
// A disk that does not take it is said, and the entry waits in memory.
func (a *App) durable(ctx context.Context, j *openJob) string {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	if err := j.file.Sync(ctx); err != nil {
		return " The disk has not taken it yet: " + err.Error() + "."
	}
	return ""
}

// kept waits until what a person wrote is on the disk; other acts are on their
// way there at once, and nobody waits for them with a probe in each hand.
func (a *App) kept(ctx context.Context, j *openJob, act capture.Act) string {
	switch act.Verb {
	case capture.ActNote, capture.ActIndication, capture.ActPart:
		return a.durable(ctx, j)
	}
	j.file.Hasten()
	return ""
}

// Enclosure returns the content of a picture or sound, of an open or a closed job.
func (a *App) Enclosure(ctx context.Context, id, hash string, small bool) (kind string, data []byte, err error) {
	if small {
		if data, ok := a.pictures.kept(hash); ok && a.has(id, hash) {
			return "image/jpeg", data, nil
		}
	}
	const what = "show a picture or sound"
	err = a.readFile(ctx, id, func(f *store.Job) error {
		kind, data, err = content(ctx, f, hash)
		return err
	})
	if err == nil && small {
		kind = "image/jpeg"
		data, err = a.pictures.small(ctx, hash, data)
	}
	switch {
	case errors.Is(err, store.ErrNoEnclosure), errors.Is(err, store.ErrErased):
		return "", nil, &dashboards.Error{Kind: dashboards.NotFound, Detail: what, Err: err}
	case errors.Is(err, media.ErrUnknown):
		return "", nil, mediaProblem(what, err)
	}
	return kind, data, err
}

// has reports whether an open job's record names a content.
func (a *App) has(id, hash string) bool {
	j, err := a.job(id)
	if err != nil {
		return false
	}
	erased, named := false, false
	for _, e := range j.book.Entries() {
		if what, ok := e.Act.Enclosure(); ok && what.Hash == hash {
			named, erased = true, false
		}
		erased = erased || e.Act.Verb == capture.ActErase && e.Act.Subject == hash
	}
	return named && !erased
}

// content reads what an act of the record names: nothing else is given out, and
// its type is the one that was told by the content.
func content(ctx context.Context, f *store.Job, hash string) (kind string, data []byte, err error) {
	if data, err = f.Enclosure(ctx, hash); err != nil {
		return "", nil, err
	}
	if kind = media.Type(data); kind == "" {
		return "", nil, media.ErrUnknown
	}
	return kind, data, nil
}

// readFile opens a job's file, open or closed, without folding its record.
func (a *App) readFile(ctx context.Context, id string, f func(*store.Job) error) error {
	if j, err := a.job(id); err == nil {
		return f(j.file)
	} else if id == "" {
		return err
	}
	path, err := a.workspace.Path(id)
	if err != nil {
		return problem("read job", err)
	}
	file, err := store.OpenFile(path)
	if err != nil {
		return &dashboards.Error{Kind: dashboards.NotFound, Detail: "read job " + id, Err: err, Hint: jobListHint}
	}
	return errors.Join(f(file), file.Close(ctx))
}

// EraseEnclosure takes a picture or sound out of a job's file, open or closed: first
// the record says so, then it goes.
func (a *App) EraseEnclosure(ctx context.Context, id, hash, why string) (dashboards.Result, error) {
	j, err := a.job(id)
	if err != nil && id != "" {
		return a.eraseClosed(ctx, id, hash, why)
	}
	if err != nil {
		return dashboards.Result{}, err
	}
	const what = "erase a picture or sound"
	act := capture.Act{Verb: capture.ActErase, Subject: hash, Text: why, By: j.book.Sheet().Technician}
	if err := j.book.Check(act); err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	if _, err := j.file.Enclosure(ctx, hash); err != nil {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: what, Err: err}
	}
	var at capture.Instant
	err = a.pictures.alone(ctx, func() error {
		at, err = a.erase(ctx, j, act)
		return err
	})
	if err != nil {
		return dashboards.Result{}, problem(what, err)
	}
	return dashboards.Result{Job: j.id, At: at, Say: job.Entry(act) + outOfReach}, nil
}

// erase carries it through once the record says it, though who asked went away.
func (a *App) erase(ctx context.Context, j *openJob, act capture.Act) (capture.Instant, error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	at, err := a.bus.Post(j.id, act)
	if err == nil {
		err = j.file.Sync(ctx)
	}
	if err == nil {
		a.pictures.forget(act.Subject)
		err = j.file.Unenclose(ctx, act.Subject)
	}
	return at, err
}

// JobEntries returns the entries of a job, open or closed.
func (a *App) JobEntries(ctx context.Context, id string) (name string, entries []capture.Entry, err error) {
	err = a.read(ctx, id, func(f *store.Job, b *job.Book) error {
		name, entries = f.ID(), b.Entries()
		return nil
	})
	return name, entries, err
}

var _ dashboards.Entries = (*App)(nil)
