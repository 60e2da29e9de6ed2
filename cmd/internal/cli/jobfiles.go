package cli

import (
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"steadyrail/capture/job"
	"steadyrail/capture/store"
)

// jobFiles lists pictures and sounds, and takes one out as a file.
func jobFiles(s streams, dir *string) *cobra.Command {
	c := &cobra.Command{
		Use: "files [JOB]", Short: "List the pictures and sounds of a job, or write one into a file", Args: cobra.MaximumNArgs(1),
		Long: `List the pictures and sounds of a job with their hashes. Without a name it is the open job, of several
the one opened last. --hash HASH --out FILE writes one into a file; the beginning of a hash is enough:
  steadyrail job files AB-0147
  steadyrail job files --hash b1ff9c --out found.png`,
	}
	hash := c.Flags().String("hash", "", "hash of one, or its beginning")
	out := c.Flags().String("out", "", "file to write it into; - for stdout")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if (*hash == "") != (*out == "") {
			return usef("job files: --hash and --out belong together")
		}
		if len(args) == 0 {
			id, err := newestOpen(cmd.Context(), s, *dir, "job files AB-0147")
			if err != nil {
				return err
			}
			args = []string{id}
		}
		return readJob(cmd.Context(), s, *dir, args[0], func(f *store.Job, _ *job.Book) error {
			list, err := f.Enclosures(cmd.Context())
			if err != nil {
				return judged(err)
			}
			if *hash != "" {
				return writeEnclosure(cmd.Context(), s, f, list, *hash, *out)
			}
			if len(list) == 0 {
				fmt.Fprintln(s.out, noFiles(f.ID()))
				return nil
			}
			w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
			for _, e := range list {
				fmt.Fprintf(w, "%.12s\t%s\t%s\t%s\t%s%s\n", e.What.Hash, day(e.At), e.Act.Verb, e.Act.Subject, e.What.Say(), gone(e))
			}
			return w.Flush()
		})
	}
	return c
}

// noFiles says that a job has none, and how one comes into it.
func noFiles(id string) string {
	return fmt.Sprintf("Job %[1]s has no pictures or sounds. While it is open they come from the page of the job, from a phone (steadyrail job phone), or from a file: steadyrail job picture FILE, steadyrail job sound FILE.", id)
}

// gone says that a picture was erased.
func gone(e store.Enclosed) string {
	switch {
	case e.Still:
		return fmt.Sprintf("; erased %s by the record, and the file still holds it: erase it again", day(e.Erased))
	case e.Erased != 0:
		return fmt.Sprintf("; erased %s: %s", day(e.Erased), e.Why)
	}
	return ""
}
