package report

import (
	"encoding/base64"
	"html/template"
	"time"

	"steadyrail/capture"
)

// mostPictures bounds what a report carries; all of them are in the job's file.
const mostPictures = 60

// pictureView is a picture on the report.
type pictureView struct {
	Data    template.URL // the small one, as a data URI; "" when it was erased or cannot be read
	Caption string
	Taken   string
	Why     string // there is no picture
	Hash    string // beginning of it
}

// pictures draws the pictures that the entries name, and tells how many more
// there are.
func (t teller) pictures() (out []pictureView, more int) {
	for _, e := range t.d.Entries {
		what, ok := e.Act.Enclosure()
		if !ok || e.Act.Verb != capture.ActPicture {
			continue
		}
		if len(out) == mostPictures {
			more++
			continue
		}
		v := pictureView{Caption: capital(e.Act.Subject), Hash: what.Hash[:12], Taken: t.pictureTime(what)}
		switch why, gone := t.erased(what.Hash); {
		case gone:
			v.Why = "Erased: " + sentence(why)
		case t.o.Picture == nil:
			v.Why = "In the job’s file."
		default:
			data, err := t.o.Picture(what.Hash)
			if err != nil {
				v.Why = sentence(capital(err.Error()))
				break
			}
			v.Data = template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(data)) // drawn by us
		}
		out = append(out, v)
	}
	return out, more
}

func (t teller) pictureTime(e capture.Enclosure) string {
	text := e.Taken.Time().In(t.o.Zone).Format("2006-01-02 15:04:05")
	switch {
	case e.Received && e.Camera != "":
		if at, err := time.Parse("2006:01:02 15:04:05", e.Camera); err == nil {
			return "received " + text + "; the camera’s clock showed " + at.Format("2006-01-02 15:04:05")
		}
		return "received " + text
	case e.Received:
		return "received " + text
	}
	return "taken " + text + " by the camera’s clock"
}

// erased tells whether a picture or sound went, and why.
func (t teller) erased(hash string) (why string, gone bool) {
	for _, e := range t.d.Entries {
		if what, ok := e.Act.Enclosure(); ok && what.Hash == hash {
			gone = false
		}
		if e.Act.Verb == capture.ActErase && e.Act.Subject == hash {
			why, gone = e.Act.Text, true
		}
	}
	return why, gone
}

// fittedRow is a part with its origin.
type fittedRow struct {
	Where, Type, Origin, Code, Replaces, Cost string
	Quantity                                  int
}

func (t teller) fitted() (out []fittedRow) {
	for _, e := range t.d.Entries {
		if p, ok := e.Act.Fitted(); ok {
			r := fittedRow{Where: e.Act.Subject, Type: p.Type, Origin: p.Origin, Code: p.DateCode, Replaces: p.Replaces, Cost: p.Cost, Quantity: p.Quantity}
			if p.Maker != "" {
				r.Type += ", " + p.Maker
			}
			out = append(out, r)
		}
	}
	return out
}

// indications lists what the set said of itself later: what it said at take-in
// stands at the head of the report.
func (t teller) indications() (out []entryRow) {
	for _, e := range t.d.Entries {
		if e.Act.Verb == capture.ActIndication {
			out = append(out, entryRow{When: t.short(e.At), Text: e.Act.Text})
		}
	}
	return out
}

type returnRow struct {
	Rail, Left, LeftAt, Back, BackAt, Say string
	Moved                                 bool
}

type returnView struct {
	Job, Day string
	Rows     []returnRow
}

// returned compares with how the set left before; nil when it was not here.
func (t teller) returned() *returnView {
	r := t.o.Return
	if r == nil {
		return nil
	}
	v := &returnView{Job: r.Job, Day: r.Left.Time().In(t.o.Zone).Format(time.DateOnly)}
	for _, line := range r.Rails {
		row := returnRow{Rail: named(line.Rail), Say: line.Say, Moved: line.Moved}
		row.Left, row.LeftAt = t.figureAt(line.Left)
		row.Back, row.BackAt = t.figureAt(line.Back)
		v.Rows = append(v.Rows, row)
	}
	return v
}

func (t teller) figureAt(r *capture.Result) (figure, at string) {
	if r == nil {
		return "\u2013", ""
	}
	figure = fig(r.Quantity.Unit(), r.Value, r.Resolution)
	if r.Uncertainty > 0 {
		figure += "\u00a0±\u00a0" + capture.Figure(r.Uncertainty, r.Resolution)
	}
	return figure, r.At.Time().In(t.o.Zone).Format(time.DateOnly)
}
