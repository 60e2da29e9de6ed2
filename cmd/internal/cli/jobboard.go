package cli

import (
	"context"
	"path/filepath"
	"strings"

	"steadyrail/capture"
	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards"
)

var noRails = usef(`job open: name the rails, such as --rails "+5 2%%, +12 5%%", or a board's sheet: --board FILE.yaml`)

// openJob opens a job. When its board has a sheet, the rails come from there
// unless they were said, and the job takes the sheet.
func openJob(ctx context.Context, s streams, dir string, d *client, sheet capture.Sheet, rails string) error {
	text, err := sheetFor(s, dir, sheet.Board)
	if err != nil {
		return err
	}
	if text == "" && rails == "" && sheet.Board != "" {
		return usef(`job open: the workspace keeps no sheet of %q (see: steadyrail boards): name the rails, such as --rails "+5 2%%, +12 5%%", or the sheet as FILE.yaml`, sheet.Board)
	}
	if text == "" && rails == "" {
		return noRails
	}
	body := map[string]any{}
	if text != "" {
		b, _ := configs.ParseBoard("sheet", []byte(text)) // it was read without a problem
		if sheet.Board = b.Name; rails == "" {
			body["rail_list"] = b.Rails
		}
	}
	for key, v := range openRequest(sheet, rails) {
		body[key] = v
	}
	res, err := d.post(ctx, "/api/v1/jobs", body)
	if err := told(s, res, err); err != nil || text == "" {
		return err
	}
	return fileIsolate(ctx, s, dir, sheet.Job, dashboards.IsolateAsk{Sheet: text})
}

// sheetFor finds the sheet of a board: the file, or what the workspace keeps
// under that name. Empty: there is none.
func sheetFor(s streams, dir, board string) (string, error) {
	if filepath.Ext(board) == ".yaml" {
		return sheetText(s, board)
	}
	list, err := app.KeptBoards(dir)
	for _, b := range list {
		if board != "" && b.Wrong == "" && (strings.EqualFold(b.Name, board) || strings.EqualFold(b.File, board)) {
			s.say("taking the sheet %s of the workspace", b.File)
			return b.Text, err
		}
	}
	return "", err
}
