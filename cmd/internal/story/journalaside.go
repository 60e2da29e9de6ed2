package story

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// errOtherBoard is of a journal that was kept when the practice board had other
// parts or points: what hands did then cannot be done to the board of now.
var errOtherBoard = errors.New("it is of another board")

// layAside gives a journal of another board a name of its own beside its place:
// the board of now begins with a set as it came in, and nothing is lost. It is
// called when the workspace is known to be nobody else's.
func (j *journal) layAside() error {
	if !j.other {
		return nil
	}
	name := strings.TrimSuffix(j.path, filepath.Ext(j.path))
	for n := 1; ; n++ {
		to := fmt.Sprintf("%s-other-board-%d%s", name, n, filepath.Ext(j.path))
		if _, err := os.Lstat(to); err == nil {
			continue // kept at an earlier change of the board
		} else if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if err := os.Rename(j.path, to); err != nil {
			return fmt.Errorf("lay the journal of another board aside: %w", err)
		}
		j.other, j.aside = false, to
		return nil
	}
}

// saysAside tells what happened to a journal of another board, and what to do.
func (j *journal) saysAside() string {
	if j == nil || j.aside == "" {
		return ""
	}
	return fmt.Sprintf("The practice board of this program has other parts or points than the one that hands worked on here, so what they did cannot be done again. It was kept as %s. The program that wrote it still takes it, under the name %s.\n", j.aside, journalName)
}
