package cli

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture/table"
	"steadyrail/cmd/internal/app"
	"steadyrail/dashboards/export"
)

// own reads what is in an export of ours; nil: the file is from elsewhere, or it
// was said how it is to be read.
func (im *importing) own(path string, o table.Options) (*app.OwnExport, error) {
	o.Zone = nil // has a default
	if !reflect.DeepEqual(o, table.Options{}) || len(im.on) > 0 {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("import: %w", err)
	}
	defer f.Close()
	r := bufio.NewReaderSize(f, 4<<10)
	beginning, _ := r.Peek(1 << 10) // a shorter file is as good
	mark, ours := export.IsOurs(string(beginning))
	if !ours {
		return nil, nil
	}
	found, err := app.ReadOwn(r, mark)
	if err != nil {
		return nil, fmt.Errorf("import %s: %w", filepath.Base(path), err)
	}
	return found, nil
}

// runOwn shows an export of ours, or makes a job of it.
func (im *importing) runOwn(cmd *cobra.Command, s streams, path string, own *app.OwnExport) error {
	if im.show {
		fmt.Fprintf(s.out, "%s: an export of this program, decimal %s; nothing needs to be said\n", filepath.Base(path), own.Mark)
		for _, c := range own.Channels {
			fmt.Fprintf(s.out, "channel %s, %s\n", c.ID, c.Quantity)
		}
		for _, r := range own.Rails {
			fmt.Fprintf(s.out, "rail %s\n", r)
		}
		return nil
	}
	if im.sheet.Job == "" {
		im.sheet.Job = strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	}
	var err error
	if _, err = im.places(nil); err != nil {
		return use(err)
	}
	if im.rails == "" {
		if im.sheet.Rails, err = own.RailsOf(); err != nil {
			return err
		}
	}
	for _, name := range own.Rails {
		if _, there := im.sheet.Rail(name); !there {
			return usef("import: the file has rail %q, which is not among --rails", name)
		}
	}
	done, err := im.make(cmd, s, app.Import{Path: path, Own: own})
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Job %s has %d values in %d readings from %s.\n", im.sheet.Job, done.Values, done.Rows, done.File)
	return nil
}
