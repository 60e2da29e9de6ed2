package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/paper"
	"steadyrail/dashboards"
)

// bench is where a command works: a workspace, and the daemon that holds it
// when one runs.
type bench struct {
	dir    string
	daemon *client // nil: none runs
}

// errNoDaemon tells that a command needs a daemon and none runs.
var errNoDaemon = errors.New("no daemon runs on this workspace")

// openBench finds the workspace and its daemon.
func openBench(dir string) (*bench, error) {
	if _, err := os.Stat(dir); err != nil {
		return nil, usef("there is no workspace %s: name it with --workspace DIR, or start a daemon: steadyrail run --config FILE", dir)
	}
	b := &bench{dir: dir}
	holder, err := store.ReadLock(dir)
	switch {
	case errors.Is(err, store.ErrNoDaemon):
	case err != nil:
		return nil, err
	case holder.Address == "":
		return nil, fmt.Errorf("process %d holds %s but does not listen yet: try again", holder.PID, dir)
	default:
		b.daemon = &client{base: "http://" + holder.Address, token: holder.Token, http: &http.Client{Timeout: 2 * time.Minute}}
	}
	return b, nil
}

// must returns the daemon's client, for what only a daemon can do.
func (b *bench) must() (*client, error) {
	if b.daemon == nil {
		return nil, fmt.Errorf("%w: %s; start one: steadyrail run --config FILE", errNoDaemon, b.dir)
	}
	return b.daemon, nil
}

// isFile reports whether a job is named by its file, not by its number.
func isFile(job string) bool { return filepath.Ext(job) == store.Extension }

// jobFile returns the path of a job: a file's name, or a job of the workspace.
func (b *bench) jobFile(job string) string {
	if isFile(job) {
		return job
	}
	return filepath.Join(b.dir, "jobs", job+store.Extension)
}

// client talks to a daemon's API.
type client struct {
	base, token string
	http        *http.Client
}

func (c *client) do(ctx context.Context, method, path string, body any) (*http.Response, error) {
	var r io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			return nil, err
		}
		r = bytes.NewReader(b)
	}
	req, err := http.NewRequestWithContext(ctx, method, c.base+path, r)
	if err != nil {
		return nil, err
	}
	req.Header.Set("Authorization", "Bearer "+c.token)
	if body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	resp, err := c.http.Do(req)
	if err != nil {
		return nil, fmt.Errorf("ask the daemon: %w", err)
	}
	if resp.StatusCode >= 400 {
		defer resp.Body.Close()
		return nil, refusal(resp)
	}
	return resp, nil
}

// refusal turns a problem document into an error. What the person asked
// wrongly is wrong use; what the daemon could not do is the environment.
func refusal(resp *http.Response) error {
	var p dashboards.Problem
	if err := json.NewDecoder(io.LimitReader(resp.Body, 1<<20)).Decode(&p); err != nil || p.Title == "" {
		return fmt.Errorf("the daemon answered %s", resp.Status)
	}
	text := p.Detail
	if text == "" {
		text = p.Title
	}
	if p.Hint != "" {
		text += "; " + p.Hint
	}
	err := errors.New(text)
	if resp.StatusCode < 500 {
		return use(err)
	}
	return err
}

// get decodes the answer of a GET.
func (c *client) get(ctx context.Context, path string, into any) error {
	resp, err := c.do(ctx, http.MethodGet, path, nil)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	return json.NewDecoder(resp.Body).Decode(into)
}

// post does an act and returns what it came to.
func (c *client) post(ctx context.Context, path string, body any) (dashboards.Result, error) {
	var res dashboards.Result
	err := c.send(ctx, path, body, &res)
	return res, err
}

// send posts a body and decodes the answer.
func (c *client) send(ctx context.Context, path string, body, into any) error {
	resp, err := c.do(ctx, http.MethodPost, path, body)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	return json.NewDecoder(resp.Body).Decode(into)
}

// download copies the answer of a GET, however long it is: a job's readings may
// take longer than any other answer.
func (c *client) download(ctx context.Context, path string, w io.Writer) error {
	patient := *c.http
	patient.Timeout = 0
	resp, err := (&client{c.base, c.token, &patient}).do(ctx, http.MethodGet, path, nil)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	_, err = io.Copy(w, resp.Body)
	return err
}

// act does an act of a job.
func (c *client) act(ctx context.Context, job string, act capture.Act) (dashboards.Result, error) {
	return c.post(ctx, "/api/v1/acts", struct {
		Job string `json:"job,omitempty"`
		capture.Act
	}{job, act})
}

// jobPath builds the address of something of a job.
func jobPath(job, what string) string { return "/api/v1/jobs/" + url.PathEscape(job) + "/" + what }

// writeFile writes a result into a file, or to stdout for "-". A file appears
// complete or not at all.
func writeFile(s streams, name string, write func(io.Writer) error) error {
	if name == "-" {
		return write(under(s.out))
	}
	if _, err := os.Stat(filepath.Dir(name)); errors.Is(err, fs.ErrNotExist) {
		return usef("write %s: there is no folder %s", name, filepath.Dir(name))
	}
	if err := paper.Write(name, write); err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	s.say("wrote %s", name)
	return nil
}
