package cli

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"time"

	"github.com/spf13/cobra"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/capture/store/timestamp"
)

// authorityTime is how long an authority may take to answer.
const authorityTime = 30 * time.Second

func stampCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "stamp FILE --authority URL",
		Short: "Have a time-stamp authority sign that a job's record existed",
		Long: `Verify a job's file, have a time-stamp authority (RFC 3161) sign its newest head, and keep
request and answer in the file, beside the record. Nothing but the head, a hash, leaves the
house. The stamp proves that the record up to that head existed by the authority's time, if
the authority is honest; not that it is true, nor how long it existed before.

The file must not be in use: stop the daemon that holds the workspace, or stamp when it has
ended. What a file keeps, somebody can take out of it: keep a copy of the stamped file
elsewhere. "steadyrail verify FILE --roots FILE.pem" checks the stamps later.

It ends with 0 when the stamp is in the file, 1 when the record is broken or the answer does
not hold, 3 when the authority refuses or cannot be reached, or the workspace is in use.`,
		Args: cobra.ExactArgs(1),
	}
	dir := workspaceFlag(c)
	authority := c.Flags().String("authority", "", "address of the time-stamp authority, https://...")
	rootsFile := c.Flags().String("roots", "", "certificates (PEM) that are trusted: refuse a stamp that they do not vouch for")
	_ = c.MarkFlagRequired("authority")
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if u, err := url.Parse(*authority); err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" {
			return usef("stamp: %q is no address of an authority: write https://...", *authority)
		}
		path, err := findJob(s, *dir, args[0])
		if err != nil {
			return err
		}
		roots, err := readRoots(*rootsFile)
		if err != nil {
			return err
		}
		f, err := store.OpenFile(path)
		if err != nil {
			return foreign(err)
		}
		defer f.Close(cmd.Context())
		said, err := stamp(cmd.Context(), f, *authority, roots, *rootsFile)
		if err != nil {
			return stampFailure(err)
		}
		fmt.Fprintln(s.out, printable(said))
		return nil
	}
	return c
}

// stamp has the newest head of a job signed and keeps the answer.
func stamp(ctx context.Context, f *store.Job, authority string, roots *x509.CertPool, file string) (said string, err error) {
	if err := f.Free(); err != nil { // before anybody is asked
		return "", err
	}
	found, err := f.Heads(ctx)
	if err != nil {
		return "", err
	}
	if found.Newest.N == 0 {
		return "", usef("job %s has no record yet: there is nothing to stamp", f.ID())
	}
	request, err := found.Newest.Request()
	if err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(ctx, authorityTime)
	defer cancel()
	response, err := timestamp.Ask(ctx, &http.Client{}, authority, request)
	if err != nil {
		return "", err
	}
	one := store.Stamp{Commit: found.Newest.N, Head: found.Newest.Head.Hash, Request: request.DER(), Response: response, Authority: withoutSecrets(authority)}
	found.Known[one.Head] = found.Newest
	if said, err = stampWords(one, found, roots, file); err != nil {
		return "", err
	}
	return said, f.AddStamp(ctx, one)
}

// withoutSecrets is what of an address may stand in a file that is handed on.
func withoutSecrets(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		return ""
	}
	u.User, u.RawQuery = nil, ""
	return u.String()
}

// stampFailure gives an error its exit code and what to do.
func stampFailure(err error) error {
	switch {
	case errors.Is(err, store.ErrHeld):
		return fmt.Errorf("%w; a file is stamped while no daemon holds its workspace", err)
	case errors.Is(err, store.ErrBroken), errors.Is(err, timestamp.ErrMismatch), errors.Is(err, timestamp.ErrMalformed), errors.Is(err, timestamp.ErrSignature):
		return judged(err)
	}
	return err
}

// readRoots reads certificates to trust; no name, none.
func readRoots(name string) (*x509.CertPool, error) {
	if name == "" {
		return nil, nil
	}
	pem, err := os.ReadFile(name)
	if err != nil {
		return nil, usef("--roots: %w", err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(pem) {
		return nil, usef("--roots %s: no certificate in PEM form is in it", name)
	}
	return roots, nil
}

// stamps lists the stamps and returns how many do not hold.
func (v *verifying) stamps(list []store.Stamp, found store.Heads, roots *x509.CertPool) (bad int) {
	for _, s := range list {
		said, err := stampWords(s, found, roots, v.roots)
		if err != nil {
			bad++
			said = fmt.Sprintf("time-stamp of head %s does not hold: %v", short(s.Head), err)
		}
		fmt.Fprintln(v.s.out, printable(said))
	}
	return bad
}

func short(head string) string { return head[:min(16, len(head))] + "…" }

// stampWords says what a stamp proves of this record. roots nil: its signature
// is not looked at.
func stampWords(s store.Stamp, found store.Heads, roots *x509.CertPool, file string) (string, error) {
	token, err := s.Token()
	if err != nil {
		return "", err
	}
	c, ok := found.Known[s.Head]
	if !ok {
		return "", errors.New("the record does not come to that head")
	}
	within := ""
	if token.AccuracyKnown {
		within = fmt.Sprintf(" ± %s", token.Accuracy)
	}
	said := fmt.Sprintf("head %s (%s) existed by %s%s after the authority %s, %s", short(s.Head), covers(c.Head),
		token.GenTime.Format(time.RFC3339Nano), within, s.Authority, after(token.GenTime, c.Head.Last))
	if roots == nil {
		return said + "; signature not checked (--roots FILE)", nil
	}
	if err := token.VerifySignature(roots); err != nil {
		return "", err
	}
	return fmt.Sprintf("%s; signed by %s, checked against %s; whether its certificate was revoked was not asked", said, token.Signer, file), nil
}

// after says how long after the last record a stamp was made: what it leaves
// open.
func after(stamp time.Time, last capture.Instant) string {
	d := stamp.Sub(last.Time()).Round(time.Second)
	if d < 0 {
		return fmt.Sprintf("%s before its last record: one of the two clocks was wrong", -d)
	}
	return fmt.Sprintf("%s after its last record", d)
}
