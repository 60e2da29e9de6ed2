package configs

import (
	"strings"
	"time"
	"unicode"

	"go.yaml.in/yaml/v3"

	"steadyrail/rules/notify"
)

// notifier reads one item of notify; what its kind asks for is checked by the
// room that knows the kinds.
func (r *reader) notifier(n *yaml.Node, key string) {
	var c notify.Config
	before := len(r.list)
	lines := r.mapping(n, key, []field{
		{"kind", r.choice(&c.Kind, notify.Kinds()...)},
		{"name", r.identity(&c.Name)},
		{"url", r.text(&c.URL)},
		{"timeout", r.span(&c.Timeout, time.Millisecond, time.Minute)},
		{"least", r.choice(&c.Least, "notice", "warning", "urgent")},
		{"group_after", r.whole(&c.GroupAfter, 1, 1_000_000)},
		{"group_within", r.span(&c.GroupWithin, time.Second, time.Minute)},
		{"subject", r.text(&c.Subject)},
		{"body", r.passage(&c.Body)},
		{"body_file", r.fileBeside(&c.BodyFile)},
		{"content_type", r.text(&c.ContentType)},
		{"resend", r.span(&c.Resend, time.Second, 10*time.Minute)},
		{"server", r.text(&c.Server)},
		{"tls", r.choice(&c.TLS, "starttls", "implicit", "none")},
		{"ca_file", r.fileBeside(&c.CAFile)},
		{"from", r.text(&c.From)},
		{"to", r.texts(&c.To)},
		{"user", r.identity(&c.User)},
		{"password", r.secret},
		{"password_file", r.fileBeside(&c.PasswordFile)},
		{"password_env", r.text(&c.PasswordEnv)},
		{"argv", r.texts(&c.Argv)},
	})
	if lines == nil {
		return
	}
	if lines["kind"] == 0 {
		r.add(n.Line, join(key, "kind"), "use "+either(notify.Kinds()), "missing")
	}
	if len(r.list) == before {
		r.notifierFits(c, n, key, lines)
	}
	r.c.Notify = append(r.c.Notify, c)
}

// notifierFits asks the kind about an item that could be read, and that no two
// notifiers share a name: tests and screens go by it.
func (r *reader) notifierFits(c notify.Config, n *yaml.Node, key string, lines map[string]int) {
	for _, err := range each(c.Validate()) {
		what := err.Error()
		name, rest, ok := strings.Cut(what, ": ")
		if !ok {
			name, rest = "", what
		}
		r.add(max(lines[name], n.Line), strings.TrimSuffix(join(key, name), "."), "", "%s", rest)
	}
	for _, other := range r.c.Notify {
		if c.Name != "" && c.Name == other.Name {
			r.add(lines["name"], join(key, "name"), "give each a name of its own", "another notifier is called %q too", cut(c.Name))
		}
	}
}

// secret refuses a password in the file: files are copied, mailed and shown.
func (r *reader) secret(n *yaml.Node, key string) {
	r.add(n.Line, key, "put it into a file that only the daemon may read and name that: password_file; or password_env", "a password does not stand in a configuration")
}

// fileBeside reads the path of a file, relative to this one.
func (r *reader) fileBeside(into *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		if s, ok := r.word(n, key); ok {
			*into = r.beside(s)
		}
	}
}

// passage reads a text that may have many lines.
func (m *mistakes) passage(into *string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		flat := *n
		flat.Value = strings.Map(func(r rune) rune {
			if r == '\n' || r == '\t' {
				return ' '
			}
			return r
		}, n.Value)
		if _, ok := m.word(&flat, key); ok {
			*into = n.Value
		}
	}
}

// texts reads a list of texts, in order; each may be anything but a control
// character.
func (m *mistakes) texts(into *[]string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		if n.Kind != yaml.SequenceNode {
			m.add(n.Line, key, "write [first, second]", "a list is wanted here, not %s", kindOf(n))
			return
		}
		if len(n.Content) == 0 {
			m.add(n.Line, key, "give it a value or leave the key out", "the list is empty")
		}
		for _, item := range n.Content {
			switch {
			case item.Kind != yaml.ScalarNode:
				m.add(item.Line, key, "", "a single value is wanted here, not %s", kindOf(item))
			case strings.ContainsFunc(item.Value, unicode.IsControl):
				m.add(item.Line, key, "", "there are control characters in the value")
			default:
				*into = append(*into, item.Value)
			}
		}
	}
}
