package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// verifying is one use of `verify`.
type verifying struct {
	s           streams
	dir         string
	heads       []string
	record, out string // a proof that is wanted
	roots       string
}

func verifyCommand(s streams) *cobra.Command {
	v := verifying{s: s}
	c := &cobra.Command{
		Use:   "verify FILE",
		Short: "Check a job's file, or a proof, against a head from a report",
		Long: `Compute the hash chain of a job's file again, and look for the heads given with --head, as
they stand in reports: for each it says whether everything that the report rests on is
unchanged. Without --head it prints the newest head. When the chain is broken it says where,
and up to where it still holds. Time-stamps in the file are listed.

  steadyrail verify AB-0147 --out proof.json \
    --record dmm/volts@2031-03-12T10:00:00.000200+01:00
writes a proof that one record belongs to the head. The time may be shorter, such as
dmm/volts@10:00:00 or dmm/volts@2031-03-12T10:00; where it means several readings they are listed. It shows up to 15 records beside it, which
were hashed with it. Whoever has the head checks it without the job's file:
  steadyrail verify proof.json --head '3f2a 90bc ...'

A chain shows bit rot and careless edits. It cannot show that somebody who has the file made
all of it anew: that shows only a head that is kept elsewhere, on paper for instance. No
head, stamp or proof can show that a lead was where somebody said it was.

It ends with 0 when all holds, 1 when the file is broken, a head is not in it, or a stamp or
proof does not hold.`,
		Args: cobra.ExactArgs(1),
	}
	dir := workspaceFlag(c)
	f := c.Flags()
	f.StringArrayVar(&v.heads, "head", nil, "head from a report, 64 hexadecimal digits, spaces allowed; may be given again")
	f.StringVar(&v.record, "record", "", "record to prove: its number, or channel and time of a reading, as the export has them or shorter: 'dmm/volts@10:00:00'; several that match are listed")
	f.StringVar(&v.out, "out", "", "file for the proof of --record; - for stdout")
	f.StringVar(&v.roots, "roots", "", "certificates (PEM) that are trusted for time-stamps")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		v.dir = *dir
		for i, text := range v.heads {
			head, err := parseHead(text)
			if err != nil {
				return err
			}
			v.heads[i] = head
		}
		if (v.record == "") != (v.out == "") {
			return usef("verify: --record and --out belong together: the record to prove, and the file for the proof")
		}
		return v.run(cmd.Context(), args[0])
	}
	return c
}

// parseHead reads a head as people copy it from paper.
func parseHead(text string) (string, error) {
	head := strings.ToLower(strings.Join(strings.Fields(text), ""))
	if len(head) != 64 || strings.Trim(head, "0123456789abcdef") != "" {
		return "", usef("--head %q: a head has 64 hexadecimal digits; copy all of them from the report", text)
	}
	return head, nil
}

func (v *verifying) run(ctx context.Context, name string) error {
	if text, ok := proofText(name); ok {
		return v.proof(text)
	}
	path, err := findJob(v.s, v.dir, name)
	if err != nil {
		return err
	}
	f, err := store.OpenFile(path)
	if err != nil {
		return foreign(err)
	}
	defer f.Close(ctx)
	if v.out != "" {
		return v.prove(ctx, f)
	}
	return v.file(ctx, f)
}

// proofText returns the content of a file that may be a proof: JSON, as no
// database begins, and not long.
func proofText(name string) ([]byte, bool) {
	f, err := os.Open(name)
	if err != nil {
		return nil, false
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, 1<<20))
	return text, err == nil && bytes.HasPrefix(bytes.TrimSpace(text), []byte("{"))
}

// file tells what the file of a job says about the heads, and its stamps.
func (v *verifying) file(ctx context.Context, f *store.Job) error {
	roots, err := readRoots(v.roots)
	if err != nil {
		return err
	}
	stamps, unreadable := f.Stamps(ctx) // told after what matters more
	found, failure := f.Heads(ctx, append(headsOf(stamps), v.heads...)...)
	var broken *store.BrokenError
	if failure != nil && !errors.As(failure, &broken) {
		return failure
	}
	if broken != nil {
		v.stillHolds(f.ID(), found.Newest)
	} else if len(v.heads) == 0 {
		fmt.Fprintf(v.s.out, "job %s agrees with its own hashes: %s, head %s\nCompare it with the head printed on a report (--head): alone it cannot show that all was made anew.\n",
			f.ID(), covers(found.Newest.Head), found.Newest.Head.Hash)
	}
	unknown := v.known(f.ID(), found, broken != nil)
	bad := v.stamps(stamps, found, roots)
	if broken == nil {
		if err := v.enclosures(ctx, f); err != nil {
			return judged(err)
		}
	}
	switch {
	case broken != nil:
		return judged(broken)
	case unreadable != nil:
		return unreadable
	case unknown > 0:
		return judged(fmt.Errorf("job %s: %d of %d heads are not in its record: it was changed before that head, made anew, cut off, or the head is another job's", f.ID(), unknown, len(v.heads)))
	case bad > 0:
		return judged(fmt.Errorf("job %s: %d of %d time-stamps do not hold", f.ID(), bad, len(stamps)))
	}
	return nil
}

func headsOf(stamps []store.Stamp) (heads []string) {
	for _, s := range stamps {
		if len(s.Head) == 64 {
			heads = append(heads, s.Head)
		}
	}
	return heads
}

// known tells of each head that was asked for, and returns how many are unknown.
func (v *verifying) known(id string, found store.Heads, broken bool) (unknown int) {
	where := "is not in the record of job " + id
	if broken {
		where = "was not found in front of the damage"
	}
	for _, head := range v.heads {
		c, ok := found.Known[head]
		if !ok {
			unknown++
			fmt.Fprintf(v.s.out, "head %s %s\n", head, where)
			continue
		}
		more := ""
		if n := found.Newest.Head.Count - c.Head.Count; found.Newest.N > c.N {
			more = fmt.Sprintf("; %d came later", n)
		}
		fmt.Fprintf(v.s.out, "job %s is unchanged since head %s: %s%s\n", id, head, covers(c.Head), more)
	}
	return unknown
}

// stillHolds tells what lies before damage.
func (v *verifying) stillHolds(id string, c store.Commit) {
	if c.N == 0 {
		fmt.Fprintf(v.s.out, "job %s: nothing in front of the damage could be compared\n", id)
		return
	}
	fmt.Fprintf(v.s.out, "job %s: in front of the damage all is as it was hashed, and can be read: %s, head %s\n", id, covers(c.Head), c.Head.Hash)
}

func covers(h capture.Head) string {
	if h.Count == 1 {
		return fmt.Sprintf("1 record, at %s", h.Last)
	}
	return fmt.Sprintf("%d records, the last at %s", h.Count, h.Last)
}
