package app

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/capture/table"
	"steadyrail/dashboards/export"
	"steadyrail/rules"
)

// OwnExport is what the first pass over a file of ours found in it.
type OwnExport struct {
	Mark     capture.DecimalMark
	Channels []capture.ChannelInfo // in order of appearance
	Rails    []string              // likewise
}

// ReadOwn reads an export of ours once, to know what is in it.
func ReadOwn(r io.Reader, mark capture.DecimalMark) (*OwnExport, error) {
	o := &OwnExport{Mark: mark}
	err := export.ReadCSV(r, mark, func(l export.Line) error { o.note(l); return nil })
	if err != nil {
		return nil, fmt.Errorf("%w: %w", table.ErrUnclear, err)
	}
	return o, nil
}

func (o *OwnExport) note(l export.Line) {
	if !slices.ContainsFunc(o.Channels, func(c capture.ChannelInfo) bool { return c.ID == l.Reading.Channel }) {
		o.Channels = append(o.Channels, capture.ChannelInfo{ID: l.Reading.Channel, Quantity: l.Reading.Quantity})
	}
	if rail := l.Placement.Rail; rail != "" && !slices.Contains(o.Rails, rail) {
		o.Rails = append(o.Rails, rail)
	}
}

// RailsOf makes rails of the names in the file, where nobody said more: an export
// holds no bounds, so that none are known. A name tells the nominal: "+5 V logic".
func (o *OwnExport) RailsOf() ([]capture.Rail, error) {
	var out []capture.Rail
	for _, name := range o.Rails {
		figure, words, _ := strings.Cut(name, " V")
		list, err := capture.ParseRails(figure + " ? " + words)
		if err != nil || len(list) != 1 || list[0].Name != name {
			return nil, fmt.Errorf("%w: what rail %q is does not follow from its name: give --rails", table.ErrUnclear, name)
		}
		out = append(out, list[0])
	}
	return out, nil
}

// passOwn reads the file once.
func (im Import) passOwn(r io.Reader, yield func(export.Line) error) (t table.Tally, err error) {
	err = export.ReadCSV(r, im.Own.Mark, func(l export.Line) error {
		if t.Rows == 0 {
			t.First = l.At
		}
		t.Rows, t.Last = t.Rows+1, l.At
		if l.Reading.HasValue() {
			t.Values++
		} else {
			t.NoNumber++
		}
		if yield == nil {
			return nil
		}
		return yield(l)
	})
	_, rest := io.Copy(io.Discard, r) // to the end: the hash is of the whole file
	if err == nil {
		err = rest
	}
	return t, err
}

// writeOwn puts the readings into the record as they were: their instants, their
// places, their digits and flags.
func (im Import) writeOwn(ctx context.Context, j *store.Job, checked Imported) (Imported, error) {
	items := job.OpenItems(im.Sheet, im.rosterOwn(checked), capture.RuleSet{Engine: rules.Version}, nil, im.Sheet.Technician)
	items = append(items, capture.Act{Verb: capture.ActNote, Text: im.noteOwn(checked), By: im.Sheet.Technician})
	last := checked.First - capture.Instant(len(items)+len(im.Own.Channels)+1)
	put := func(at capture.Instant, it capture.Item) {
		j.Consume(capture.Record{At: at, Job: im.Sheet.Job, Item: it})
		last = at
	}
	for _, it := range items {
		put(last+1, it)
	}
	at := map[capture.ChannelID]capture.Placement{}
	again, err := im.pass(ctx, "writing", nil, func(l export.Line) error {
		if was, placed := at[l.Reading.Channel]; !placed || was != l.Placement {
			if last+1 >= l.At {
				return fmt.Errorf("line %d: there is no room in the record for the move of %s before it", l.Number, l.Reading.Channel)
			}
			at[l.Reading.Channel] = l.Placement
			p := l.Placement
			p.By = im.Sheet.Technician
			put(last+1, p)
		}
		put(l.At, l.Reading)
		if l.Number%importSlice == 0 {
			return j.Sync(ctx)
		}
		return nil
	})
	if err != nil {
		return again, err
	}
	put(again.Last+1, capture.Act{Verb: capture.ActClose, By: im.Sheet.Technician})
	return again, j.Sync(ctx)
}

func (im Import) rosterOwn(checked Imported) (r capture.Roster) {
	for _, c := range im.Own.Channels {
		k := slices.IndexFunc(r.Instruments, func(in capture.InstrumentInfo) bool { return in.Name == c.ID.Instrument() })
		if k < 0 {
			k = len(r.Instruments)
			r.Instruments = append(r.Instruments, capture.InstrumentInfo{Name: c.ID.Instrument(), Model: importModel, Title: "values imported from " + checked.File})
		}
		r.Instruments[k].Channels = append(r.Instruments[k].Channels, c)
	}
	return r
}

// noteOwn says where the readings came from.
func (im Import) noteOwn(c Imported) string {
	return fmt.Sprintf("Imported on %s from the file %s, %d bytes, SHA-256 %s, an export of this program. The readings, their instants and their places are the file's; no rule judged them here, and accuracies, bounds and acts are not in it. %s.",
		table.Stamp(im.Now, nil), c.File, c.Bytes, c.SHA256, counted(c.Rows, "reading", "readings"))
}
