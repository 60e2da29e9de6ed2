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
	"text/tabwriter"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/capture/store"
	"steadyrail/cmd/internal/app"
	"steadyrail/dashboards"
)

// jobEntries are the commands for what stands beside readings.
func jobEntries(s streams, dir *string) []*cobra.Command {
	return []*cobra.Command{
		jobFile(s, dir, "picture", "Add a picture to a job", "what it shows: \"+5 V converter, old\""),
		jobFile(s, dir, "sound", "Add a sound to a job: a voice note, or the noise it makes", "what it is about"),
		jobPart(s, dir), jobFinding(s, dir), jobIndication(s, dir), jobSet(s, dir), jobErase(s, dir), jobReturned(s, dir), jobPhone(s, dir),
	}
}

// named takes "AB-0147 FILE" or "FILE" with --job.
func named(args []string, id *string) (rest string) {
	if len(args) == 2 {
		*id = args[0]
	}
	return args[len(args)-1]
}

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

func jobPart(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: `part [JOB] PLACE --type TYPE --from "own stock"`, Short: "Add a part that was fitted, and where it is from", Args: cobra.RangeArgs(1, 2),
		Long: "Add a part that was fitted: where it sits, its type, and where it is from: " + strings.Join(capture.Origins(), ", ") + ", or other words.",
	}
	id := jobFlag(c)
	var p capture.Fitted
	f := c.Flags()
	f.StringVar(&p.Type, "type", "", "as its maker calls it")
	f.StringVar(&p.Maker, "maker", "", "who made it")
	f.StringVar(&p.Origin, "from", "", "where it is from")
	f.StringVar(&p.DateCode, "date-code", "", "printed on it, or batch")
	f.IntVar(&p.Quantity, "quantity", 1, "how many")
	f.StringVar(&p.Replaces, "replaces", "", "the part that went")
	f.StringVar(&p.Cost, "cost", "", "with its currency")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		where := named(args, id)
		if lacks := partLacks(where, p); lacks != "" {
			return usef("part: %s", lacks)
		}
		if err := p.Check(); err != nil {
			return usef("part: %w", err)
		}
		return act(cmd.Context(), s, *dir, *id, p.Act(where, ""))
	}
	return c
}

// partLacks names all that is missing at once, as it is typed; empty: nothing.
func partLacks(where string, p capture.Fitted) string {
	var lacks []string
	for _, must := range [][2]string{
		{where, "its place on the board, such as C104"}, {p.Type, "its type: --type, as its maker calls it"},
		{p.Origin, `where it is from: --from "` + strings.Join(capture.Origins(), `", "`) + `" or other words`},
	} {
		if strings.TrimSpace(must[0]) == "" {
			lacks = append(lacks, must[1])
		}
	}
	if len(lacks) == 0 {
		return ""
	}
	return "say " + strings.Join(lacks, "; and ")
}

func jobFinding(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{Use: "finding TEXT", Short: "Add a finding: a conclusion with its evidence", Args: cobra.ExactArgs(1)}
	id := jobFlag(c)
	of := c.Flags().String("of", "", "what it is about: a rail or a part")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActFinding, Subject: *of, Text: args[0]})
	}
	return c
}

func jobIndication(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "indication TEXT", Short: "Add what the set says of itself; kept apart from evidence", Args: cobra.ExactArgs(1),
		Long: "Add what the set says of itself: blink codes, error numbers. It is listed apart, and nothing is judged by it.",
	}
	id := jobFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		return act(cmd.Context(), s, *dir, *id, capture.Act{Verb: capture.ActIndication, Text: args[0]})
	}
	return c
}

func jobSet(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "set [JOB] --customer TEXT --serial TEXT", Short: "Complete the sheet of an open job", Args: cobra.MaximumNArgs(1),
		Long: "Complete the sheet of an open job: customer and serial number may come later. What stood there before stays in the record.",
	}
	id := jobFlag(c)
	lines := []struct{ flag, say string }{
		{"set", "what was brought"}, {"board", "board under repair"}, {"serial", "serial number of the set"}, {"customer", "whose it is"},
		{"symptom", "what is wrong with it"}, {"indication", "what the set says of itself"}, {"technician", "who works on it"},
	}
	for _, l := range lines {
		c.Flags().String(l.flag, "", l.say)
	}
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 1 {
			*id = args[0]
		}
		change := map[string]string{}
		for _, l := range lines {
			if f := c.Flags().Lookup(l.flag); f.Changed {
				name := l.flag
				if name == "serial" {
					name = "serial_number"
				}
				change[name] = f.Value.String()
			}
		}
		if len(change) == 0 {
			return usef(`job set: say what: --customer "..." or --serial 00123457`)
		}
		return inHand(cmd.Context(), s, *dir, id, func(d *client) (dashboards.Result, error) {
			return d.post(cmd.Context(), jobPath(*id, "sheet"), change)
		})
	}
	return c
}

// inHand finds the daemon and, where none is named, the job opened last.
func inHand(ctx context.Context, s streams, dir string, id *string, do func(*client) (dashboards.Result, error)) error {
	d, err := daemon(dir)
	if err != nil {
		return err
	}
	if *id == "" {
		if *id, err = newestOpen(ctx, s, dir); err != nil {
			return err
		}
	}
	res, err := do(d)
	return told(s, res, err)
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
		return inHand(cmd.Context(), s, *dir, id, func(d *client) (res dashboards.Result, err error) {
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

func jobReturned(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "returned [JOB]", Short: "Compare how a set left with how it came back", Args: cobra.MaximumNArgs(1),
		Long: `Compare how a set left with how it came back: the last figure of each rail in the job before,
of the same serial number, against the first of this one, with the uncertainty of the
difference.`,
	}
	asJSON := jsonFlag(c)
	c.RunE = func(cmd *cobra.Command, args []string) error {
		id := strings.Join(args, "")
		if id == "" {
			var err error
			if id, err = newestOpen(cmd.Context(), s, *dir); err != nil {
				return err
			}
		}
		r, err := returned(cmd.Context(), s, *dir, id)
		if err != nil {
			return err
		}
		if *asJSON {
			return writeJSON(s.out, map[string]any{"returned": r})
		}
		showReturned(s, id, r)
		return nil
	}
	return c
}

// returned asks the daemon, or reads the files when none runs.
func returned(ctx context.Context, s streams, dir, id string) (*capture.Return, error) {
	b, err := openBench(dir)
	if err != nil {
		return nil, err
	}
	if b.daemon != nil {
		var answer struct {
			Returned *capture.Return `json:"returned"`
		}
		err := b.daemon.get(ctx, jobPath(id, "returned"), &answer)
		return answer.Returned, err
	}
	w, err := store.OpenWorkspace(dir, store.Options{})
	if err != nil {
		return nil, err
	}
	defer w.Close()
	var out *capture.Return
	err = readJob(ctx, s, dir, id, func(f *store.Job, book *job.Book) error {
		out, err = app.Before(ctx, w, f, book)
		return err
	})
	return out, err
}

// leftBefore compares a job of a workspace that no daemon holds; nil when it
// cannot: a report without it is better than none.
func leftBefore(ctx context.Context, dir string, f *store.Job, b *job.Book) *capture.Return {
	w, err := store.OpenWorkspace(dir, store.Options{})
	if err != nil {
		return nil
	}
	defer w.Close()
	out, _ := app.Before(ctx, w, f, b)
	return out
}

func showReturned(s streams, id string, r *capture.Return) {
	if r == nil {
		fmt.Fprintf(s.out, "No job of the same serial number was closed before %s was opened; others are not compared: steadyrail job list --serial NUMBER\n", id)
		return
	}
	if len(r.Rails) == 0 {
		fmt.Fprintf(s.out, "It left with job %s, closed %s: no rail of the same name was measured there, so nothing can be compared.\n", r.Job, day(r.Left))
		return
	}
	fmt.Fprintf(s.out, "As it left job %s, closed %s, and as it returned:\n", r.Job, day(r.Left))
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	for _, line := range r.Rails {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", line.Rail, figureWith(line.Left), figureWith(line.Back), line.Say)
	}
	w.Flush()
}

// figureWith is a figure with its uncertainty.
func figureWith(r *capture.Result) string {
	if r == nil {
		return "-"
	}
	text := r.Quantity.Unit().Text(r.Value, r.Resolution)
	if r.Uncertainty > 0 {
		text += " ± " + r.Quantity.Unit().Text(r.Uncertainty, r.Resolution)
	}
	return text
}

func jobPhone(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "phone [JOB]", Short: "Open a page for a phone: pictures and sounds for a job", Args: cobra.MaximumNArgs(1),
		Long: `Open a page for a phone, which takes pictures and sounds for one job. The job's page shows its
code to scan. It is encrypted with a certificate made for it that no authority vouches for:
the phone will warn. Compare the fingerprint that it shows with the one here before going on.
Who has the address can add to this job and see nothing of it, until it closes by itself.`,
	}
	id := jobFlag(c)
	minutes := c.Flags().Int("minutes", 10, "how long it is open, at most 60")
	address := c.Flags().String("address", "", "of this computer, that the phone reaches: 192.168.1.20 or 192.168.1.20:8471")
	end := c.Flags().Bool("close", false, "close it now")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 1 {
			*id = args[0]
		}
		return inHand(cmd.Context(), s, *dir, id, func(d *client) (res dashboards.Result, err error) {
			if *end {
				resp, err := d.do(cmd.Context(), http.MethodDelete, jobPath(*id, "handover"), nil)
				if err != nil {
					return res, err
				}
				defer resp.Body.Close()
				return res, json.NewDecoder(resp.Body).Decode(&res)
			}
			var h dashboards.Handover
			if err := d.send(cmd.Context(), jobPath(*id, "handover"), map[string]any{"minutes": *minutes, "address": *address}, &h); err != nil {
				return res, err
			}
			res.Say = fmt.Sprintf("%s\nOpen until %s for job %s. SHA-256 fingerprint of its certificate:\n%s", h.URL, h.Ends.Local().Format("15:04:05"), h.Job, h.Fingerprint)
			return res, nil
		})
	}
	return c
}
