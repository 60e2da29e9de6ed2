package configs

import (
	"cmp"
	"fmt"
	"net"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/viper"
	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
)

// settings are the plain values at the top of the file: the text, and the line
// it stands on.
type settings map[string]written

type written struct {
	text string
	line int
}

// defaults of the plain settings.
var defaults = map[string]string{
	"bench": "bench", "workspace": "./bench", "listen": "127.0.0.1:8470", "decimal": "point", "log_level": "info", "phone": "",
}

// Settings lists the keys that environment and flags may set.
func Settings() []string {
	return []string{"bench", "workspace", "listen", "decimal", "log_level", "phone"}
}

// EnvPrefix stands before the key, in capitals, of an environment variable.
const EnvPrefix = "STEADYRAIL"

// setting keeps a plain value for viper.
func (r *reader) setting(name string) func(*yaml.Node, string) {
	return func(n *yaml.Node, key string) {
		var s string
		if name == "bench" {
			r.identity(&s)(n, key)
		} else {
			r.text(&s)(n, key)
		}
		if s == "" {
			return
		}
		if r.given == nil {
			r.given = settings{}
		}
		r.given[name] = written{s, n.Line}
	}
}

// settle lays defaults, environment and flags around the file's settings and
// checks what comes out, naming where each came from.
func (r *reader) settle(o Options) {
	v := viper.New()
	v.SetEnvPrefix(EnvPrefix)
	file := map[string]any{}
	for _, key := range Settings() {
		v.SetDefault(key, defaults[key])
		_ = v.BindEnv(key)
		if w, ok := r.given[key]; ok {
			file[key] = w.text
		}
	}
	_ = v.MergeConfigMap(file)
	for key, value := range o.Flags {
		if slices.Contains(Settings(), key) {
			v.Set(key, value)
		}
	}
	for _, key := range Settings() {
		r.apply(key, v.GetString(key), r.origin(key, v.GetString(key), o))
	}
}

// origin tells where a value came from.
type origin struct {
	file string
	line int
	own  bool // from the file itself or a default
}

func (r *reader) origin(key, value string, o Options) origin {
	if _, ok := o.Flags[key]; ok {
		return origin{file: "--" + strings.ReplaceAll(key, "_", "-")}
	}
	w, ok := r.given[key]
	if ok && w.text == value {
		return origin{r.file, w.line, true}
	}
	if !ok && value == defaults[key] {
		return origin{r.file, 0, true}
	}
	return origin{file: EnvPrefix + "_" + strings.ToUpper(key)}
}

var benchName = regexp.MustCompile(`^[\pL\pN][\pL\pN _.-]{0,39}$`)

func (r *reader) apply(key, value string, from origin) {
	bad := func(hint, what string) {
		r.list = append(r.list, Problem{from.file, from.line, key, what, hint})
	}
	oneOf := func(words ...string) bool {
		if slices.Contains(words, value) {
			return true
		}
		bad(suggestion(value, words), strconv.Quote(cut(value))+" is not known here")
		return false
	}
	switch key {
	case "bench":
		if !benchName.MatchString(value) {
			bad(benchHint, strconv.Quote(cut(value))+" cannot name a bench")
		}
		r.c.Bench = value
	case "workspace":
		r.c.Workspace = value
		if from.own {
			r.c.Workspace = r.beside(value)
		}
	case "listen":
		r.c.Listen = value
		if what, hint := checkListen(value); what != "" {
			bad(hint, what)
		}
	case "phone":
		r.c.Phone = value
		if what, hint := checkPhone(value); what != "" {
			bad(hint, what)
		}
	case "decimal":
		if oneOf("point", "comma") {
			r.c.Decimal, _ = capture.ParseDecimalMark(value)
		}
	case "log_level":
		if oneOf("debug", "info", "warn", "error") {
			r.c.LogLevel = value
		}
	}
}

// CheckBench reports why a bench may not have a name.
func CheckBench(name string) error {
	if !benchName.MatchString(name) {
		return fmt.Errorf("%q cannot name a bench: %s", cut(name), benchHint)
	}
	return nil
}

const benchHint = "use letters, digits, spaces, - _ and ., at most 40"

// CheckListen reports why a daemon may not listen on an address: it is no
// host:port, or not on loopback.
func CheckListen(value string) error {
	if what, hint := checkListen(value); what != "" {
		return fmt.Errorf("listen: %s; %s", what, hint)
	}
	return nil
}

// checkListen refuses every address that others can reach: acts on
// instruments would be open to the network.
func checkListen(value string) (what, hint string) {
	host, port, err := net.SplitHostPort(value)
	if err != nil {
		return strconv.Quote(cut(value)) + " is not host:port", "write 127.0.0.1:8470"
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return "port " + strconv.Quote(cut(port)) + " is not a number from 0 to 65535", "write 127.0.0.1:8470"
	}
	ip := net.ParseIP(host)
	if host == "localhost" || ip != nil && ip.IsLoopback() {
		return "", ""
	}
	who := strconv.Quote(cut(host))
	if host == "" {
		who = "an empty host"
	}
	return who + " can be reached from other computers, which needs TLS and a credential; this version serves only the computer it runs on",
		"write 127.0.0.1:" + port + " and reach it through a tunnel"
}

// inOrder sorts problems by line, those of the whole file first.
func inOrder(list []Problem) []Problem {
	slices.SortStableFunc(list, func(a, b Problem) int { return cmp.Compare(a.Line, b.Line) })
	return list
}
