package report

import (
	"slices"
	"strings"

	"steadyrail/capture"
)

func (t teller) subject() string {
	if t.d.Sheet.Set != "" {
		return t.d.Sheet.Set
	}
	return "Set not named"
}

// when names bench and days for the head of the report.
func (t teller) when() string {
	var parts []string
	if b := t.d.Sheet.Bench; b != "" {
		parts = append(parts, capital(b)+" bench")
	}
	if !t.d.From.IsZero() {
		parts = append(parts, t.days(t.d.From, t.d.To))
	}
	return strings.Join(parts, ", ")
}

func (t teller) meta() []pair {
	s := t.d.Sheet
	set := s.Set
	if s.SerialNumber != "" {
		set += ", no. " + s.SerialNumber
	}
	out := []pair{{"Set", set}, {"Board", s.Board}, {"Symptom", s.Symptom}, {"What the set says", s.Indication}, {"Customer", s.Customer}, {"Technician", s.Technician}}
	out = slices.DeleteFunc(out, func(p pair) bool { return p.Value == "" })
	return append(out, pair{"Times", t.zone()})
}

// standingUnchecked is what this program never checks, whatever the job, and
// the words by which a line of the dossier is known to say it already.
var standingUnchecked = []struct {
	text  string
	known []string
}{
	{"Safety tests after repair (protective conductor, insulation, currents): by someone licensed to do them, as local codes require.", []string{"safety test"}},
	{"Stability of the stand-in's control loop.", []string{"stability"}},
	{"Shape of the start: how fast and in what order the rails come up.", []string{"start-up", "shape of the start"}},
	{"Ripple and noise: a multimeter that reads direct voltage does not see them.", []string{"ripple"}},
	{"Electromagnetic compatibility.", []string{"electromagnetic", "interference", "emc"}},
}

// notChecked joins what technician and dossier name with the standing list. A
// standing line is left out where another already says the same; what a person
// wrote is never left out.
func (t teller) notChecked() []string {
	var out []string
	for _, s := range slices.Concat(t.d.Sheet.NotChecked, t.d.NotChecked) {
		if s = capital(sentence(s)); s != "" && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	for _, s := range standingUnchecked {
		said := slices.ContainsFunc(out, func(o string) bool {
			return slices.ContainsFunc(s.known, func(word string) bool { return strings.Contains(strings.ToLower(o), word) })
		})
		if !said {
			out = append(out, s.text)
		}
	}
	return out
}

func (t teller) cautions() []caution {
	var out []caution
	if t.usesStandIn() {
		out = append(out, caution{"A stand-in is not the maker’s part.", "It was judged at the voltages, loads and temperatures of this record; other conditions were not."})
	}
	return append(out,
		caution{"Safety tests after repair are not part of this report.", "Before the set is returned it must be tested as local codes require, by someone licensed to do so; where this report and those codes differ, the codes stand."},
		caution{"steadyrail is not a safety device and not an oscilloscope.", "It reports what its meters gave, at the rate they gave it."},
		caution{"This is not a calibration certificate.", "Uncertainties rest on makers’ statements as they stand in the configuration, not on a comparison with a standard."},
	)
}

func (t teller) usesStandIn() bool {
	for _, s := range t.d.Stages {
		if s.Stage == capture.StandIn || s.Stage == capture.Preset || s.Stage == capture.Trim {
			return true
		}
	}
	return false
}

// seal is what can be checked later, and what that would not prove.
type seal struct {
	Known                      bool
	Hash, Count, Last, Command string
	Short                      string
}

func (t teller) seal() seal {
	h := t.d.Head
	if h.Hash == "" {
		return seal{}
	}
	return seal{Known: true, Hash: groups(h.Hash), Short: h.Hash[:min(8, len(h.Hash))], Count: whole(h.Count), Last: t.moment(h.Last), Command: t.check()}
}

// check is the whole command that holds the job's file against the head: without
// the head it would say that the file agrees with itself, and no more.
func (t teller) check() string {
	file, where := t.o.File, ""
	switch {
	case strings.ContainsAny(file, `/\`): // a path
	case t.d.Sheet.Job != "":
		file, where = t.d.Sheet.Job, " --workspace DIR"
	case file == "":
		file = "FILE"
	}
	if strings.Contains(file, " ") {
		file = `"` + file + `"`
	}
	return "steadyrail verify " + file + where + ` --head "` + groups(t.d.Head.Hash) + `"`
}

func (t teller) written() string {
	if t.o.Written.IsZero() {
		return "not known"
	}
	// The clock may be read before the last records are: a report that covers
	// them was not written earlier.
	return t.moment(max(t.o.Written, t.d.Head.Last))
}

// foot stands on every printed page.
func (t teller) foot() string {
	s := t.d.Sheet.Job
	if h := t.seal(); h.Known {
		return s + " · head " + h.Short
	}
	return s + " · head not known"
}
