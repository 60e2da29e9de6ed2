package capture

import "strings"

// asIs are elements whose text is not prose of ours: programs, styles, code, and
// what somebody typed.
var asIs = map[string]bool{"script": true, "style": true, "pre": true, "code": true, "textarea": true}

// raw are those of them whose content is no markup.
var raw = map[string]bool{"script": true, "style": true, "textarea": true}

// spoken are the attributes that people read or hear.
var spoken = []string{` aria-label="`, ` title="`, ` alt="`}

// HTML turns the figures that people read in a page: its text, and the attributes
// that are read out. Elements of class quote, which hold what a person typed, and
// all markup stay as they are. The page must be well formed, as templates write
// it.
func (t Turner) HTML(page string) string {
	if !t.Turns() {
		return page
	}
	return eachText(page, t.Bare, stays)
}

// tagLength is how far a tag or a comment goes that s begins with.
func tagLength(s string) int {
	if strings.HasPrefix(s, "<!--") {
		if i := strings.Index(s, "-->"); i >= 0 {
			return i + 3
		}
		return len(s)
	}
	quote := byte(0)
	for i := 1; i < len(s); i++ {
		switch c := s[i]; {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '>':
			return i + 1
		}
	}
	return len(s)
}

func tagName(tag string) string {
	name := strings.TrimLeft(tag, "<")
	if i := strings.IndexAny(name, " \t\n/>"); i >= 0 {
		name = name[:i]
	}
	return strings.ToLower(name)
}

// stays reports whether what an opening tag holds is left alone.
func stays(name, tag string) bool {
	if name == "" || strings.HasSuffix(tag, "/>") {
		return false
	}
	return asIs[name] || strings.Contains(tag, `class="quote"`)
}

// elementLength is how far the content of an element goes, its own kind inside
// counted.
func elementLength(s, name string) int {
	if raw[name] { // whatever stands in it is no markup
		if i := strings.Index(s, "</"+name); i >= 0 {
			return i
		}
		return len(s)
	}
	for depth, at := 1, 0; ; {
		i := strings.Index(s[at:], "<")
		if i < 0 {
			return len(s)
		}
		at += i
		n := tagLength(s[at:])
		switch tag := s[at : at+n]; {
		case strings.HasPrefix(tag, "</") && tagName("<"+tag[2:]) == name:
			if depth--; depth == 0 {
				return at
			}
		case tagName(tag) == name && !strings.HasSuffix(tag, "/>"):
			depth++
		}
		at += n
	}
}

// turnTag turns the attributes that are read out.
func turnTag(tag string, turn func(string) string) string {
	for _, begin := range spoken {
		i := strings.Index(tag, begin)
		if i < 0 {
			continue
		}
		i += len(begin)
		if n := strings.IndexByte(tag[i:], '"'); n >= 0 {
			tag = tag[:i] + turn(tag[i:i+n]) + tag[i+n:]
		}
	}
	return tag
}
