package job

import (
	"strings"

	"steadyrail/capture"
)

// OpenItems returns what opens a job, in the order in which it is to be posted:
// the sheet, the instruments, the rules in force, the act, the first stage, and
// for every channel that shall serve the job a placement on nothing yet.
func OpenItems(sheet capture.Sheet, roster capture.Roster, rules capture.RuleSet, channels []capture.ChannelID, by string) []capture.Item {
	out := []capture.Item{
		sheet, roster, rules,
		capture.Act{Verb: capture.ActOpen, By: by},
		capture.Act{Verb: capture.ActStage, Stage: capture.TakeIn, By: by},
	}
	for _, ch := range channels {
		out = append(out, capture.Placement{Channel: ch, By: by})
	}
	return out
}

// NextID proposes a name for the next job after the last one: its last number
// counted up, with as many digits, until the name is free. Without a last job
// it begins with "AB-0001". The name satisfies [capture.CheckJobID] when last
// does and is not of the greatest length.
func NextID(last string, taken func(id string) bool) string {
	if last == "" {
		last = "AB-0000"
	}
	head, digits, tail := lastNumber(last)
	if digits == "" {
		head, digits, tail = last+"-", "1", ""
	}
	for {
		digits = countUp(digits)
		if id := head + digits + tail; taken == nil || !taken(id) {
			return id
		}
	}
}

// lastNumber splits s around its last run of digits.
func lastNumber(s string) (head, digits, tail string) {
	end := strings.LastIndexAny(s, "0123456789") + 1
	begin := end
	for begin > 0 && s[begin-1] >= '0' && s[begin-1] <= '9' {
		begin--
	}
	return s[:begin], s[begin:end], s[end:]
}

// countUp adds one to a decimal number of any length and keeps its zeros.
func countUp(digits string) string {
	b := []byte(digits)
	for i := len(b) - 1; i >= 0; i-- {
		if b[i] != '9' {
			b[i]++
			return string(b)
		}
		b[i] = '0'
	}
	return "1" + string(b)
}
