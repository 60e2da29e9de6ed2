package capture

import "strings"

// ReadMinus is [TrueMinus] for sentences that may hold something to paste: what
// stands in double quotes, and a command of this program to the end of its line or
// clause, keep the hyphen, as it is typed.
func ReadMinus(text string) string { return readMinus(text, `"`) }

const program = "steadyrail "

func readMinus(text, quote string) string {
	if !strings.Contains(text, "-") {
		return text
	}
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		parts := strings.Split(line, quote)
		command := false
		for k := range parts {
			if k%2 == 0 { // outside of quotes
				parts[k], command = proseMinus(parts[k], command)
			}
		}
		lines[i] = strings.Join(parts, quote)
	}
	return strings.Join(lines, "\n")
}

// proseMinus turns the prose of a piece that may begin or end within a command.
func proseMinus(s string, command bool) (out string, still bool) {
	for {
		if command {
			end := strings.IndexAny(s, ";(")
			if end < 0 {
				return out + s, true
			}
			out, s, command = out+s[:end], s[end:], false
			continue
		}
		i := strings.Index(s, program)
		if i < 0 {
			return out + TrueMinus(s), false
		}
		out, s, command = out+TrueMinus(s[:i])+program, s[i+len(program):], true
	}
}

// MinusHTML is [ReadMinus] for a page: its text and what is read out. Markup, code,
// what a person typed, and choices that are sent as they stand keep the hyphen.
func MinusHTML(page string) string {
	return eachText(page, func(s string) string { return readMinus(s, "&#34;") }, func(name, tag string) bool {
		return stays(name, tag) || name == "option" && !strings.Contains(tag, ` value="`)
	})
}

// eachText turns each text of a page and what is read out of its tags; what an
// element holds that is to be left stays.
func eachText(page string, turn func(string) string, left func(name, tag string) bool) string {
	var out strings.Builder
	out.Grow(len(page))
	for page != "" {
		i := strings.IndexByte(page, '<')
		if i < 0 {
			out.WriteString(turn(page))
			break
		}
		out.WriteString(turn(page[:i]))
		tag := page[i : i+tagLength(page[i:])]
		page = page[i+len(tag):]
		out.WriteString(turnTag(tag, turn))
		if name := tagName(tag); left(name, tag) {
			n := elementLength(page, name)
			out.WriteString(page[:n])
			page = page[n:]
		}
	}
	return out.String()
}
