package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// prove writes the proof of one record, against the head given or the newest.
func (v *verifying) prove(ctx context.Context, f *store.Job) error {
	if len(v.heads) > 1 {
		return usef("verify --record: one head, not %d", len(v.heads))
	}
	head := strings.Join(v.heads, "")
	seq, err := v.seq(ctx, f)
	if err != nil {
		return err
	}
	p, err := f.Prove(ctx, seq, head)
	switch {
	case errors.Is(err, store.ErrBroken), errors.Is(err, store.ErrNoHead):
		return judged(err)
	case errors.Is(err, store.ErrNoRecord):
		return use(err)
	case err != nil:
		return err
	}
	got, err := store.CheckProof(p, head)
	if err != nil {
		return err
	}
	if err := writeFile(v.s, v.out, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(p)
	}); err != nil {
		return err
	}
	v.s.say("it proves: %s", proves(got))
	return nil
}

// proof checks a proof, without any file of a job.
func (v *verifying) proof(text []byte) error {
	if v.out != "" {
		return usef("verify: this is a proof; a record is proved from the file of its job")
	}
	p, err := store.ParseProof(text)
	if err != nil {
		return judged(err)
	}
	heads := v.heads
	if len(heads) == 0 {
		heads = []string{""}
	}
	for _, head := range heads {
		got, err := store.CheckProof(p, head)
		if err != nil {
			return judged(err)
		}
		fmt.Fprintln(v.s.out, proves(got))
		if head == "" {
			fmt.Fprintln(v.s.out, "Compare that head with the one printed on a report (--head): alone this proves nothing.")
		}
	}
	return nil
}

// proves says in a sentence what a proof proves.
func proves(p store.Proved) string {
	var what string
	switch p.Kind {
	case "reading":
		what = fmt.Sprintf("reading %d of %s, %s answered at %s", p.Seq, p.Reading.Channel, readingWords(p.Reading), p.At)
	case "item":
		what = fmt.Sprintf("record %d, %s of %s: %s", p.Seq, p.Name, p.At, p.Body)
	default:
		what = fmt.Sprintf("record %d, a change of an alarm at %s: %s", p.Seq, p.At, p.Body)
	}
	return fmt.Sprintf("%s, belongs to the record with head %s (%d records up to %s)", printable(what), p.Head, p.Count, p.Upto)
}

// printable makes text out of a file that a stranger may have made harmless to a
// terminal.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return unicode.ReplacementChar
	}, text)
}

func readingWords(r capture.Reading) string {
	if !r.HasValue() {
		return "without a value (" + r.Flags.String() + ")"
	}
	text := r.Quantity.Unit().Text(r.Value, r.Resolution)
	if r.Flags != 0 {
		text += " (" + r.Flags.String() + ")"
	}
	return text
}
