package job

import (
	"strings"

	"steadyrail/capture"
)

func needMark(a capture.Act) error {
	if _, err := capture.ParseMarkedAs(a.Text); err != nil {
		return bad("%v", err)
	}
	return aSubject("the rail")(a)
}

func needTrimmer(a capture.Act) error {
	if a.Value <= 0 || a.Value > 100 {
		return bad("%g turns from end to end cannot be", a.Value)
	}
	if span, _, err := capture.Volt.ParseTyped(a.Text, capture.Point); err != nil || span <= 0 {
		return bad("say the volts between its ends, such as 1 V")
	}
	return aSubject("the rail")(a)
}

func mark(a capture.Act) string {
	as, err := capture.ParseMarkedAs(a.Text)
	if err != nil {
		return finish("Value marked"+named(a.Subject), a.Text)
	}
	return finish("Value of "+subject(a, "a rail")+" marked", as.Say())
}

func trimmer(a capture.Act) string {
	return finish("Trimmer of "+subject(a, "a rail")+" declared", figure(a.Value)+" turns over "+strings.TrimSpace(a.Text))
}
