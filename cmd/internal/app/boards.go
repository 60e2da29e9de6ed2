package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"steadyrail/configs"
	"steadyrail/dashboards"
	"steadyrail/dashboards/web"
)

// BoardFolder is where a workspace keeps its sheets.
const BoardFolder = "boards"

// Boards lists the sheets that the workspace keeps, by name of file.
func (i isolating) Boards(context.Context) ([]web.BoardFile, error) {
	return KeptBoards(i.app.workspace.Dir())
}

// Board returns a sheet by the name of its file or of its board.
func (i isolating) Board(_ context.Context, name string) (web.BoardFile, error) {
	list, err := KeptBoards(i.app.workspace.Dir())
	if err != nil {
		return web.BoardFile{}, err
	}
	for _, b := range list {
		if strings.EqualFold(b.File, name) || strings.EqualFold(b.Name, name) {
			return b, nil
		}
	}
	return web.BoardFile{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: fmt.Sprintf("there is no board sheet %q", name), Hint: "keep one: steadyrail boards keep FILE.yaml"}
}

// KeptBoards reads the sheets of a workspace's folder. One that cannot be read
// is listed with what is wrong.
func KeptBoards(dir string) ([]web.BoardFile, error) {
	out := []web.BoardFile{}
	entries, err := os.ReadDir(filepath.Join(dir, BoardFolder))
	if errors.Is(err, fs.ErrNotExist) {
		return out, nil
	}
	if err != nil {
		return nil, fmt.Errorf("list board sheets: %w", err)
	}
	for _, e := range entries {
		file, yaml := strings.CutSuffix(e.Name(), ".yaml")
		if !yaml || e.IsDir() {
			continue
		}
		path := filepath.Join(dir, BoardFolder, e.Name())
		line := web.BoardFile{File: file}
		b, problems := configs.LoadBoard(path)
		if len(problems) > 0 {
			line.Wrong = problems[0].String()
		} else {
			text, err := os.ReadFile(path)
			if err != nil {
				return nil, fmt.Errorf("read board sheet: %w", err)
			}
			line.Name, line.Text, line.Rails, line.Parts = b.Name, string(text), len(b.Rails), b.Parts()
		}
		out = append(out, line)
	}
	return out, nil
}
