package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

func jobFile(s streams, dir *string, name, short, of string) *cobra.Command {
	c := &cobra.Command{
		Use: name + " [JOB] FILE", Short: short, Args: cobra.RangeArgs(1, 2),
		Long: short + `. What the file is, is told by its content: JPEG, PNG, WebP; WAV, Ogg, WebM, MP4
sound. ` + capture.Bytes(dashboards.MaxFile) + ` are the most. Place, device, names and everything else that a camera writes
into a picture are taken off before it is kept; its time and which side is up stay. The
file's own name is not kept. - reads from stdin. It is on the disk when the command ends.`,
	}
	id := jobFlag(c)
	what := c.Flags().String("of", "", of)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		data, err := readUpTo(s, named(args, id))
		if err != nil {
			return err
		}
		d, err := daemon(*dir)
		if err != nil {
			return err
		}
		res, err := d.file(cmd.Context(), *id, *what, data)
		return told(s, res, err)
	}
	return c
}

// readUpTo reads a file that may be sent.
func readUpTo(s streams, name string) ([]byte, error) {
	from := s.in
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, use(err)
		}
		defer f.Close()
		from = f
	}
	data, err := io.ReadAll(io.LimitReader(from, dashboards.MaxFile+1))
	if err == nil && len(data) > dashboards.MaxFile {
		err = usef("%s has more than %s", name, capture.Bytes(dashboards.MaxFile))
	}
	return data, err
}

// file posts a picture or a sound.
func (c *client) file(ctx context.Context, job, of string, data []byte) (res dashboards.Result, err error) {
	path := c.base + "/api/v1/entries?" + url.Values{"job": {job}, "of": {of}}.Encode()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, path, strings.NewReader(string(data)))
	if err != nil {
		return res, err
	}
	req.Header.Set("Authorization", "Bearer "+c.token)
	req.Header.Set("Content-Type", "application/octet-stream")
	resp, err := c.http.Do(req)
	if err != nil {
		return res, fmt.Errorf("ask the daemon: %w", err)
	}
	defer resp.Body.Close()
	if resp.StatusCode >= 400 {
		return res, refusal(resp)
	}
	return res, json.NewDecoder(resp.Body).Decode(&res)
}

func jobErase(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "erase [JOB] HASH --why TEXT", Short: "Erase one picture or sound of a job, for privacy", Args: cobra.RangeArgs(1, 2),
		Long: `Erase one picture or sound of a job, open or closed, for privacy. It cannot be undone. Its hash, when it
went and the reason stay in the record, and verify says so. Backups and reports that were
made before still hold it. The hashes: steadyrail job files`,
	}
	id := jobFlag(c)
	why := c.Flags().String("why", "", "reason; it stays, so leave names out of it")
	_ = c.MarkFlagRequired("why")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		hash := named(args, id)
		return inHand(cmd.Context(), s, *dir, "job erase AB-0147 HASH", id, func(d *client) (res dashboards.Result, err error) {
			resp, err := d.do(cmd.Context(), http.MethodDelete, jobPath(*id, "enclosures/"+url.PathEscape(hash)), map[string]string{"why": *why})
			if err != nil {
				return res, err
			}
			defer resp.Body.Close()
			return res, json.NewDecoder(resp.Body).Decode(&res)
		})
	}
	return c
}
