package sim

import "strings"

// keyword is one node of a command pattern.
type keyword struct {
	long, short string // upper case
	optional    bool
}

// command is an entry of an instrument's command tree. A pattern is written
// as in manuals, "[SENSe:]VOLTage[:DC]:RANGe[:UPPer]": capitals are the short
// form, brackets are optional nodes.
type command struct {
	pattern string
	set     func(*call) *scpiError           // nil: query only
	get     func(*call) (string, *scpiError) // nil: no query
	nodes   []keyword
}

func compile(list []command) []command {
	for i := range list {
		list[i].nodes = compilePattern(list[i].pattern)
	}
	return list
}

func compilePattern(pattern string) []keyword {
	var out []keyword
	optional := false
	for pattern != "" {
		switch pattern[0] {
		case '[':
			optional, pattern = true, pattern[1:]
			continue
		case ']':
			optional, pattern = false, pattern[1:]
			continue
		case ':':
			pattern = pattern[1:]
			continue
		}
		end := strings.IndexAny(pattern, ":[]")
		if end < 0 {
			end = len(pattern)
		}
		word := pattern[:end]
		short := strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' {
				return -1
			}
			return r
		}, word)
		out = append(out, keyword{long: strings.ToUpper(word), short: short, optional: optional})
		pattern = pattern[end:]
	}
	return out
}

// matches reports whether upper-case words name this command, and whether a
// numeric suffix other than 1 spoils it.
func matches(nodes []keyword, words []string) (ok, badSuffix bool) {
	if len(nodes) == 0 {
		return len(words) == 0, false
	}
	if len(words) > 0 {
		if hit, bad := nodes[0].is(words[0]); hit {
			if ok, badSuffix = matches(nodes[1:], words[1:]); ok {
				return true, bad || badSuffix
			}
		}
	}
	if nodes[0].optional {
		return matches(nodes[1:], words)
	}
	return false, false
}

// is takes the long form or the short form, nothing between, with an optional
// numeric suffix.
func (k keyword) is(word string) (hit, badSuffix bool) {
	if word == k.long || word == k.short {
		return true, false
	}
	bare := strings.TrimRight(word, "0123456789")
	return bare == k.long || bare == k.short, word[len(bare):] != "1"
}

// find looks a header up. level is the path that a header without leading
// colon continues; the new level is returned for the next unit of the message.
func find(list []command, u unit, level []string) (*command, []string, *scpiError) {
	if strings.HasPrefix(u.header, "*") {
		name := strings.ToUpper(u.header)
		for i := range list {
			if list[i].pattern == name && list[i].allows(u.query) {
				return &list[i], level, nil
			}
		}
		return nil, level, errHeader
	}
	header, rooted := strings.CutPrefix(u.header, ":")
	if rooted {
		level = nil
	}
	words := append(append([]string(nil), level...), strings.Split(strings.ToUpper(header), ":")...)
	for i := range list {
		if ok, bad := matches(list[i].nodes, words); ok && list[i].allows(u.query) {
			if bad {
				return nil, nil, errHeaderSuffix
			}
			return &list[i], words[:len(words)-1], nil
		}
	}
	return nil, nil, errHeader
}

func (c *command) allows(query bool) bool {
	if query {
		return c.get != nil
	}
	return c.set != nil
}
