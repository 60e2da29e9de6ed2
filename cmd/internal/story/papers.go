package story

import (
	_ "embed"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"steadyrail/cmd/internal/app"
	"steadyrail/cmd/internal/paper"
	"steadyrail/configs"
)

// StandInPaper is what the practice board asks of a stand-in, and what is stated
// of the one that lies beside it: a file of steadyrail standin.
//
//go:embed papers/standin.yaml
var StandInPaper string

// standInName is that file's name in the workspace.
const standInName = "demo-standin.yaml"

// layPapers puts the papers of the set into the workspace: the board's sheet
// among the boards that are kept, and the needs of a stand-in. What is there stays.
func layPapers(folder string) error {
	board, problems := configs.ParseBoard("board.yaml", []byte(configs.ExampleBoard))
	if len(problems) > 0 {
		return errors.New(problems[0].String())
	}
	name := strings.ReplaceAll(strings.ToLower(board.Name), " ", "-") + ".yaml"
	kept := filepath.Join(folder, app.BoardFolder)
	if err := os.MkdirAll(kept, 0o755); err != nil {
		return err
	}
	return errors.Join(lay(filepath.Join(kept, name), configs.ExampleBoard), lay(filepath.Join(folder, standInName), StandInPaper))
}

func lay(path, text string) error {
	if err := paper.New(path, paper.Text(text)); !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}
