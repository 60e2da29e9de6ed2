package cli

import (
	"context"
	"fmt"
	"io"
	"strings"

	"steadyrail/capture/store"
)

// writeEnclosure writes the one picture or sound whose hash begins so.
func writeEnclosure(ctx context.Context, s streams, f *store.Job, list []store.Enclosed, begin, name string) error {
	found := map[string]bool{}
	for _, e := range list {
		if strings.HasPrefix(e.What.Hash, strings.ToLower(begin)) {
			found[e.What.Hash] = true
		}
	}
	if len(found) != 1 {
		return usef("job %s has %d pictures and sounds whose hash begins with %q", f.ID(), len(found), begin)
	}
	for hash := range found {
		data, err := f.Enclosure(ctx, hash)
		if err != nil {
			return use(err)
		}
		return writeFile(s, name, func(w io.Writer) error { _, err := w.Write(data); return err })
	}
	return nil
}

// enclosures tells whether each picture and sound of a verified file is there.
func (v *verifying) enclosures(ctx context.Context, f *store.Job) error {
	list, err := f.Enclosures(ctx)
	if err != nil || len(list) == 0 {
		return err
	}
	kept := 0
	for _, e := range list {
		if e.Erased == 0 {
			kept++
		}
	}
	fmt.Fprintf(v.s.out, "%d of %d pictures and sounds are there, each as its hash in the record says\n", kept, len(list))
	for _, e := range list {
		if e.Erased != 0 {
			fmt.Fprintf(v.s.out, "  %.12s, %s of %s%s\n", e.What.Hash, e.Act.Verb, day(e.At), gone(e))
		}
	}
	return nil
}
