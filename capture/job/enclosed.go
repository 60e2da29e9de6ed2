package job

import (
	"encoding/json"
	"strings"

	"steadyrail/capture"
)

// The entries that are kept beside readings: what they say, and what they need.

func enclosed(a capture.Act) string {
	what := "Picture"
	if a.Verb == capture.ActSound {
		what = "Sound"
	}
	if a.Subject != "" {
		what += " of " + a.Subject
	}
	e, ok := a.Enclosure()
	if !ok {
		return what + "."
	}
	return what + " (" + e.Say() + ")."
}

func fitted(a capture.Act) string {
	p, _ := a.Fitted()
	return finish(about(a.Subject)+"fitted "+p.Say(), "")
}

func indication(a capture.Act) string {
	return "The set says “" + strings.TrimRight(a.Text, ".") + "”: an indication, not evidence."
}

func erased(a capture.Act) string {
	return finish("A picture or sound was erased, its hash "+a.Subject[:min(12, len(a.Subject))]+" stays", a.Text)
}

// SheetChange is the verb of the entry for a sheet that was completed. It is not
// the verb of any act in the record: the new sheet itself stands there.
const SheetChange capture.Verb = "sheet"

// sheetChange says what is new on a sheet; "" for nothing that people wrote.
func sheetChange(old, now capture.Sheet) string {
	var said []string
	for _, f := range [][3]string{
		{"set", old.Set, now.Set}, {"board", old.Board, now.Board}, {"serial number", old.SerialNumber, now.SerialNumber}, {"customer", old.Customer, now.Customer},
		{"symptom", old.Symptom, now.Symptom}, {"indication", old.Indication, now.Indication}, {"technician", old.Technician, now.Technician},
	} {
		switch name, was, is := f[0], f[1], f[2]; {
		case was == is:
		case was == "":
			said = append(said, name+" “"+is+"”")
		case is == "":
			said = append(said, name+" taken off, it was “"+was+"”")
		default:
			said = append(said, name+" “"+is+"” instead of “"+was+"”")
		}
	}
	if said == nil {
		return ""
	}
	return "On the sheet: " + strings.Join(said, ", ") + "."
}

func needEnclosure(a capture.Act) error {
	if e, ok := a.Enclosure(); !ok || e.Type == "" {
		return bad("the %s does not say what is enclosed", a.Verb)
	}
	return nil
}

func needPart(a capture.Act) error {
	if strings.TrimSpace(a.Subject) == "" {
		return bad("say where on the board it sits, such as C104")
	}
	var p capture.Fitted
	if err := json.Unmarshal([]byte(a.Text), &p); err != nil {
		return bad("its text must be JSON with type, origin and quantity")
	}
	if err := p.Check(); err != nil {
		return bad("%v", err)
	}
	return nil
}

func needHash(a capture.Act) error {
	if !capture.IsHash(a.Subject) {
		return bad("name the picture or sound by its hash, 64 hexadecimal digits")
	}
	return text("say why, without names: it stays")(a)
}
