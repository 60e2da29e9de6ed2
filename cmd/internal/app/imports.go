package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/capture/table"
	"steadyrail/dashboards/export"
	"steadyrail/rules"
)

// importModel is the model of an instrument whose values came out of a file.
const importModel = "import"

// importSlice is how many values may wait for the disk: far below the limit at
// which the store would drop readings.
const importSlice = 100_000

// Import is a file that becomes a job.
type Import struct {
	Workspace string
	Path      string
	Layout    *table.Layout
	Own       *OwnExport                   // in place of Layout: the file is an export of ours
	Sheet     capture.Sheet                // Job is the name; what it was made of is added
	On        map[capture.ChannelID]string // rail of a channel
	Now       capture.Instant
	Version   string
	// Through, when it is set, is told what is done and given the reader that the
	// file goes through: for a progress bar.
	Through func(what string, size int64, r io.Reader) io.Reader
}

// Imported says what an import came to.
type Imported struct {
	table.Tally
	File   string
	Bytes  int64
	SHA256 string
}

// Run reads the whole file first, and again to write it, so that nothing is
// written of a file with a row that cannot be taken. The job is built in a folder
// of its own and moved into the workspace when it is complete and closed: after
// a kill there is nothing of it. The error is a [*table.BadRows], a
// [*store.HeldError], or wraps [table.ErrUnclear], [store.ErrExists] or
// [capture.ErrJobID].
func (im Import) Run(ctx context.Context) (Imported, error) {
	if err := capture.CheckJobID(im.Sheet.Job); err != nil {
		return Imported{}, err
	}
	out, err := im.pass(ctx, "checking", nil, nil)
	if err != nil {
		return out, fmt.Errorf("import %s: %w", filepath.Base(im.Path), err)
	}
	hold, err := store.OpenWorkspace(im.Workspace, store.Options{Started: im.Now})
	if err != nil {
		return out, err
	}
	err = im.into(ctx, hold, out)
	if e := hold.Close(); err == nil {
		err = e
	}
	if err != nil {
		return out, fmt.Errorf("import %s: %w", out.File, err)
	}
	return out, nil
}

// pass reads the file once.
func (im Import) pass(ctx context.Context, what string, yield func(table.Row) error, own func(export.Line) error) (Imported, error) {
	f, err := os.Open(im.Path)
	if err != nil {
		return Imported{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return Imported{}, err
	}
	out := Imported{File: filepath.Base(im.Path), Bytes: info.Size()}
	var r io.Reader = f
	if im.Through != nil {
		r = im.Through(what, info.Size(), r)
	}
	sum := sha256.New()
	if tee := io.TeeReader(r, sum); im.Own != nil {
		out.Tally, err = im.passOwn(tee, own)
	} else {
		out.Tally, err = im.Layout.Read(ctx, tee, yield)
	}
	out.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return out, err
}

// into builds the job beside the others and moves it among them.
func (im Import) into(ctx context.Context, hold *store.Workspace, checked Imported) error {
	if err := nameFree(ctx, hold, im.Sheet.Job); err != nil {
		return err
	}
	const prefix = ".import-"
	left, _ := filepath.Glob(filepath.Join(hold.Dir(), prefix+"*"))
	for _, dir := range left { // of an import that was killed: we hold the workspace
		_ = os.RemoveAll(dir)
	}
	dir, err := os.MkdirTemp(hold.Dir(), prefix)
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	path, err := im.build(ctx, dir, checked)
	if err != nil {
		return err
	}
	for _, tail := range []string{"-wal", "-shm"} {
		if _, err := os.Stat(path + tail); err == nil {
			return fmt.Errorf("the new file was not closed in order: %s is left", filepath.Base(path)+tail)
		}
	}
	return hold.Adopt(path, im.Sheet.Job)
}

// nameFree reports whether no job has a name, in whatever capitals.
func nameFree(ctx context.Context, w *store.Workspace, id string) error {
	jobs, err := w.Jobs(ctx)
	if err != nil {
		return err
	}
	for _, j := range jobs {
		if strings.EqualFold(j.Job, id) {
			return fmt.Errorf("job %s: %w: take another name with --job", j.Job, store.ErrExists)
		}
	}
	return nil
}

// build writes the job into a workspace of its own and returns its file, closed.
func (im Import) build(ctx context.Context, dir string, checked Imported) (path string, err error) {
	w, err := store.OpenWorkspace(dir, store.Options{Started: im.Now, Program: im.Version, AnyFileSystem: true})
	if err != nil {
		return "", err
	}
	defer func() {
		if e := w.Close(); err == nil {
			err = e
		}
	}()
	im.Sheet.NotChecked = append(slices.Clone(im.Sheet.NotChecked), fmt.Sprintf("how the values were measured: they were imported from the file %s, SHA-256 %s", checked.File, checked.SHA256))
	j, err := w.Create(im.Sheet)
	if err != nil {
		return "", err
	}
	write := im.write
	if im.Own != nil {
		write = im.writeOwn
	}
	again, err := write(ctx, j, checked)
	if err == nil && again != checked {
		err = errors.New("the file changed while it was read: try again")
	}
	if e := j.Close(context.WithoutCancel(ctx)); err == nil {
		err = e
	}
	if s := j.Stats(); err == nil && (s.Dropped > 0 || s.Refused > 0) {
		err = fmt.Errorf("the record did not take everything: %d values dropped, %d refused", s.Dropped, s.Refused)
	}
	return j.Path(), err
}

// write puts everything into the record: the opening right before the first
// value and the end right behind the last, for the record is dated by the file.
func (im Import) write(ctx context.Context, j *store.Job, checked Imported) (Imported, error) {
	opening := im.opening(checked)
	at := checked.First - capture.Instant(len(opening))
	for _, it := range opening {
		j.Consume(capture.Record{At: at, Job: im.Sheet.Job, Item: it})
		at++
	}
	ordinals := map[int]uint64{}
	written := 0
	again, err := im.pass(ctx, "writing", func(row table.Row) error {
		for _, v := range row.Values {
			ordinals[v.Column]++
			c := im.Layout.Columns[v.Column]
			j.Consume(capture.Record{At: v.At, Job: im.Sheet.Job, Item: capture.Reading{
				Channel: c.Channel, Quantity: c.Quantity, Value: v.Value, Text: v.Text, Resolution: v.Resolution, Flags: v.Flags,
				Measured: row.Measured, HalfWidth: row.HalfWidth, Ordinal: ordinals[v.Column],
			}})
			if written++; written%importSlice == 0 {
				if err := j.Sync(ctx); err != nil {
					return err
				}
			}
		}
		return nil
	}, nil)
	if err != nil {
		return again, err
	}
	j.Consume(capture.Record{At: again.Last + 1, Job: im.Sheet.Job, Item: capture.Act{Verb: capture.ActClose, By: im.Sheet.Technician}})
	return again, j.Sync(ctx)
}

// opening is what stands before the first value. No rule is in force: nothing
// was judged while this was measured.
func (im Import) opening(checked Imported) []capture.Item {
	by := im.Sheet.Technician
	items := job.OpenItems(im.Sheet, im.roster(checked), capture.RuleSet{Engine: rules.Version}, nil, by)
	items = append(items, capture.Act{Verb: capture.ActNote, Text: im.note(checked), By: by})
	for _, i := range im.Layout.Taken() {
		ch := im.Layout.Columns[i].Channel
		items = append(items, capture.Placement{Channel: ch, Rail: im.On[ch], By: by})
	}
	return items
}

func (im Import) roster(checked Imported) (r capture.Roster) {
	for _, i := range im.Layout.Taken() {
		c := im.Layout.Columns[i]
		name := c.Channel.Instrument()
		k := slices.IndexFunc(r.Instruments, func(in capture.InstrumentInfo) bool { return in.Name == name })
		if k < 0 {
			k = len(r.Instruments)
			r.Instruments = append(r.Instruments, capture.InstrumentInfo{Name: name, Model: importModel, Title: "values imported from " + checked.File})
		}
		r.Instruments[k].Channels = append(r.Instruments[k].Channels, capture.ChannelInfo{ID: c.Channel, Quantity: c.Quantity})
	}
	return r
}
