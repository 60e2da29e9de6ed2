package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"steadyrail/cmd/internal/app"
	"steadyrail/cmd/internal/paper"
)

// copyBoards copies the sheets of the workspace into a backup's folder, also one
// that cannot be read as a sheet, and returns how many. Nothing is overwritten.
func copyBoards(dir, dest string) (n int, err error) {
	from := filepath.Join(dir, app.BoardFolder)
	entries, err := os.ReadDir(from)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("backup: list board sheets: %w", err)
	}
	for _, e := range entries {
		if filepath.Ext(e.Name()) != ".yaml" || !e.Type().IsRegular() {
			continue
		}
		if err := copySheet(filepath.Join(from, e.Name()), filepath.Join(dest, app.BoardFolder, e.Name())); err != nil {
			return n, fmt.Errorf("backup: board sheet %s: %w", e.Name(), err)
		}
		n++
	}
	return n, nil
}

// copySheet writes a new file and makes sure that it is on the disk.
func copySheet(from, to string) error {
	text, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return err
	}
	return paper.New(to, paper.Text(text))
}
