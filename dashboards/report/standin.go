package report

import _ "embed"

//go:embed standin.html
var standInText string

// standInView is what was judged of a part that is to stand in.
type standInView struct {
	Name, Rail, When, Say string
	Mark                  string
	Checks                []standInRow
	Soaked                *standInRow // the soak's answer to its estimate of heat
}

type standInRow struct{ Name, Word, Mark, Say string }

// standIns lists the judgements as they were made; what was not needed is left
// out.
func (t teller) standIns() (out []standInView) {
	for _, j := range t.d.StandIns {
		v := standInView{Name: j.Candidate, Rail: named(j.Rail), When: t.moment(j.At), Say: sentence(j.Say), Mark: standInMark(j.Word)}
		for _, c := range j.Checks {
			if c.Word != "not needed" {
				v.Checks = append(v.Checks, standInRow{Name: capital(c.Name), Word: c.Word, Mark: standInMark(c.Word), Say: capital(sentence(c.Say))})
			}
		}
		if s := j.Soaked; s != nil {
			v.Soaked = &standInRow{Name: "Heat, after the soak", Word: s.Word, Mark: standInMark(s.Word), Say: s.Say}
		} else if j.Point == "" {
			v.Soaked = &standInRow{Name: "Heat, after the soak", Word: "not checked", Mark: standInMark(""), Say: "No point was named at which its temperature is measured."}
		}
		out = append(out, v)
	}
	return out
}

// standInMark is the mark beside a word of a judgement.
func standInMark(word string) string {
	switch word {
	case "fits":
		return "inside"
	case "does not fit":
		return "outside"
	case "cannot tell":
		return "doubt"
	}
	return "silent"
}
