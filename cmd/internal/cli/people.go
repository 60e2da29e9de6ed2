package cli

import (
	"context"
	"io"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// people is a stream that somebody reads: the figures in it get true minus signs
// and the decimal mark of the bench. What a program reads (JSON, CSV, a report, a log) goes to what
// lies under it.
type people struct {
	w    io.Writer
	turn *capture.Turner // shared by the streams of a command
	// script is shared, too: what is written is for a shell, and stays as it is.
	script *bool
}

// forPeople makes the streams of a command.
func forPeople(in io.Reader, out, err io.Writer) streams {
	turn, script := new(capture.Turner), new(bool)
	return streams{in, people{out, turn, script}, people{err, turn, script}}
}

// Write turns what is written and reports its own length.
func (p people) Write(b []byte) (int, error) {
	text := turned(p, string(b))
	if text == string(b) {
		return p.w.Write(b)
	}
	if _, err := io.WriteString(p.w, text); err != nil {
		return 0, err
	}
	return len(b), nil
}

// under returns the stream as programs read it.
func under(w io.Writer) io.Writer {
	if p, ok := w.(people); ok {
		return p.w
	}
	return w
}

// turned is a text as it will stand on the stream, for who draws it instead.
func turned(w io.Writer, text string) string {
	if p, ok := w.(people); ok && !*p.script {
		return p.turn.Text(capture.ReadMinus(text))
	}
	return text
}

// forShell leaves what is written as it is: a completion is read by a shell.
func (s streams) forShell(cmd *cobra.Command) {
	if p, ok := s.out.(people); ok {
		for ; cmd != nil; cmd = cmd.Parent() {
			*p.script = *p.script || cmd.Name() == "completion" || cmd.Name() == cobra.ShellCompRequestCmd || cmd.Name() == cobra.ShellCompNoDescRequestCmd
		}
	}
}

// read sets the decimal mark of what follows. Names of rails are no figures.
func (s streams) read(mark capture.DecimalMark, names []string) {
	if p, ok := s.out.(people); ok {
		*p.turn = capture.NewTurner(mark, names)
	}
}

// markPatience is how long a daemon may take to say its decimal mark: it is
// asked on the same computer, and the command itself would wait longer.
const markPatience = 2 * time.Second

// readMark asks the daemon of the workspace for its decimal mark, before a
// command prints anything. Where none answers, figures keep the point.
func readMark(cmd *cobra.Command, s streams) {
	flag := cmd.Flags().Lookup("workspace")
	if flag == nil || flag.Value.String() == "" || cmd.Name() == "run" || cmd.Name() == "demo" {
		return
	}
	holder, err := store.ReadLock(flag.Value.String())
	if err != nil || holder.Address == "" {
		return
	}
	ctx, cancel := context.WithTimeout(cmd.Context(), markPatience)
	defer cancel()
	d := &client{base: "http://" + holder.Address, token: holder.Token, http: &http.Client{Timeout: markPatience}}
	resp, err := d.do(ctx, http.MethodGet, "/healthz", nil)
	if err != nil {
		return
	}
	_ = resp.Body.Close()
	mark, err := capture.ParseDecimalMark(resp.Header.Get("Steadyrail-Decimal"))
	if err != nil || mark == capture.Point {
		return
	}
	id := ""
	if job := cmd.Flags().Lookup("job"); job != nil {
		id = job.Value.String()
	}
	sheet, _ := railsOf(ctx, d, id) // no job, no names
	s.read(mark, sheet.RailNames())
}
