package web

import (
	"net/url"
	"strings"

	"steadyrail/capture"
)

// fileOf fills an entry with what it shows beside its words.
func (l *entryLine) fileOf(job string, e capture.Entry, gone map[string]bool) {
	if p, ok := e.Act.Fitted(); ok {
		l.Text = strings.TrimPrefix(e.Act.Subject+": fitted "+p.Type+".", ": ") // the rest stands in the table of parts
	}
	what, ok := e.Act.Enclosure()
	if !ok {
		return
	}
	l.Full, l.Of = e.Text, e.Act.Subject
	l.Text, _, _ = strings.Cut(e.Text, " (")
	l.Text += "."
	if gone[what.Hash] {
		l.Text = strings.TrimSuffix(l.Text, ".") + ", erased."
		return
	}
	l.File = "/api/v1/jobs/" + url.PathEscape(job) + "/enclosures/" + what.Hash
	l.Sound = e.Act.Verb == capture.ActSound
}

// erased lists the hashes that were erased.
func erased(entries []capture.Entry) map[string]bool {
	out := map[string]bool{}
	for _, e := range entries {
		if what, ok := e.Act.Enclosure(); ok {
			delete(out, what.Hash)
		}
		if e.Act.Verb == capture.ActErase {
			out[e.Act.Subject] = true
		}
	}
	return out
}

// partRow is a part that was fitted.
type partRow struct {
	Where, What, Origin, Code, Replaces, Cost, Time string
	Quantity                                        int
}

// Parts lists the parts that were fitted, oldest first.
func (v *view) Parts() []partRow {
	var out []partRow
	for _, e := range v.Job.Entries {
		if p, ok := e.Act.Fitted(); ok {
			r := partRow{Where: e.Act.Subject, What: p.Type, Origin: p.Origin, Code: p.DateCode, Replaces: p.Replaces, Cost: p.Cost, Quantity: p.Quantity, Time: v.clock(e.At)}
			if p.Maker != "" {
				r.What += ", " + p.Maker
			}
			out = append(out, r)
		}
	}
	return out
}

// Origins are the usual ones, for the form.
func (v *view) Origins() []string { return capture.Origins() }

// Indications lists what the set said of itself, apart from what was measured.
func (v *view) Indications() []entryLine {
	var out []entryLine
	if s := v.Job.Sheet.Indication; s != "" {
		out = append(out, entryLine{Text: s, Time: "at take-in"})
	}
	for _, e := range v.Job.Entries {
		if e.Act.Verb == capture.ActIndication {
			out = append(out, entryLine{Text: e.Act.Text, Time: v.clock(e.At)})
		}
	}
	return out
}

// returnRow compares one rail.
type returnRow struct {
	Rail, Left, Back, Say string
	Moved                 bool
}

// Returned is the table as it left, as it returned.
func (v *view) Returned() []returnRow {
	if v.Return == nil {
		return nil
	}
	var out []returnRow
	for _, r := range v.Return.Rails {
		out = append(out, returnRow{Rail: r.Rail, Left: figureWith(r.Left), Back: figureWith(r.Back), Say: r.Say, Moved: r.Moved})
	}
	return out
}

func figureWith(r *capture.Result) string {
	if r == nil {
		return ""
	}
	text := r.Quantity.Unit().Text(r.Value, r.Resolution)
	if r.Uncertainty > 0 {
		text += " ± " + capture.Figure(r.Uncertainty, max(uncertaintyStep(r.Uncertainty), r.Resolution))
	}
	return strings.ReplaceAll(text, " ", nbsp)
}

// LeftDay says when the set left.
func (v *view) LeftDay() string { return v.Return.Left.Time().In(v.zone).Format("2006-01-02") }
