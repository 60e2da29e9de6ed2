package configs

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers"
)

// largest is more than anyone writes by hand; a file that is larger is not a
// configuration.
const largest = 1 << 20

// Load reads the configuration at path with the environment around it. With
// any problem the config is nil; all problems are reported, in order of line.
func Load(path string) (*Config, []Problem) { return LoadWith(path, Options{}) }

// LoadWith is Load with flags and a folder of model files.
func LoadWith(path string, o Options) (*Config, []Problem) {
	data, problem := readFile(path)
	if problem != nil {
		return nil, []Problem{*problem}
	}
	return Parse(path, data, o)
}

func readFile(path string) ([]byte, *Problem) {
	fail := func(what, hint string) ([]byte, *Problem) {
		return nil, &Problem{File: path, What: what, Hint: hint}
	}
	f, err := os.Open(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fail("there is no such file", hintExample)
	case errors.Is(err, fs.ErrPermission):
		return fail("not allowed to read it", "give the user that runs steadyrail the right to read it")
	case err != nil:
		return fail(err.Error(), "")
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, largest+1))
	switch {
	case err != nil:
		return fail(err.Error(), "name a file, not a folder")
	case len(data) > largest:
		return fail("larger than 1 MiB", "this cannot be a configuration")
	}
	return data, nil
}

// hintExample is what a configuration is to be copied from; hintAs says it of
// another kind of file.
const hintExample = "copy configs/example.yaml and change it"

func hintAs(example string, problems []Problem) []Problem {
	for i := range problems {
		if problems[i].Hint == hintExample {
			problems[i].Hint = "copy " + example + " and change it"
		}
	}
	return problems
}

// reader reads one file.
type reader struct {
	mistakes
	c        *Config
	given    settings       // the values that viper is handed
	names    map[string]int // instrument names to lines
	places   map[string]int // links to lines
	written  []writtenRule
	formulas []writtenFormula
	about    func(capture.ChannelID) (capture.ChannelInfo, bool) // the channels that are known; nil: not all are
	colds    []coldOf
}

// Parse is LoadWith for bytes that were read already; path names them in
// problems and gives relative paths their folder. It reads no files but
// models and what notifiers name: templates, passwords, authorities.
func Parse(path string, data []byte, o Options) (*Config, []Problem) {
	r := &reader{mistakes: mistakes{file: path}, c: &Config{File: path}, names: map[string]int{}, places: map[string]int{}}
	if !utf8.Valid(data) {
		r.add(0, "", "save it as UTF-8", "the file is not text in UTF-8")
		return nil, r.list
	}
	root := r.parse(data)
	if root == nil {
		return nil, r.list
	}
	r.models(root, o)
	r.top(root)
	r.checkColds()
	r.channels()
	r.checkFormulas()
	r.checkRules()
	r.settle(o)
	if len(r.list) > 0 {
		return nil, inOrder(r.list)
	}
	return r.c, nil
}

// top reads the file from its first key to its last.
func (r *reader) top(root *yaml.Node) {
	lines := r.mapping(root, "", r.topFields())
	if lines != nil && lines["instruments"] == 0 {
		r.add(0, "instruments", "list at least one instrument; "+modelHint(r.c.Models.Names()), "missing: a bench without instruments measures nothing")
	}
	if lines != nil && lines["instruments"] != 0 && len(r.c.Instruments) == 0 && len(r.list) == 0 {
		r.add(lines["instruments"], "instruments", "list at least one instrument; "+modelHint(r.c.Models.Names()), "the list is empty")
	}
}

// topFields are the keys of the file.
func (r *reader) topFields() []field {
	return []field{
		{"bench", r.setting("bench")},
		{"workspace", r.setting("workspace")},
		{"listen", r.setting("listen")},
		{"decimal", r.setting("decimal")},
		{"log_level", r.setting("log_level")},
		{"phone", r.setting("phone")},
		{"models", func(*yaml.Node, string) {}}, // read before everything else
		{"instruments", func(n *yaml.Node, key string) { r.items(n, key, r.instrument) }},
		{"handhelds", func(n *yaml.Node, key string) { r.items(n, key, r.handheld) }},
		{"notify", func(n *yaml.Node, key string) { r.items(n, key, r.notifier) }},
		{"rules", func(n *yaml.Node, key string) { r.items(n, key, r.rule) }},
		{"formulas", func(n *yaml.Node, key string) { r.items(n, key, r.formula) }},
		{"job", r.job},
		{"pedal", r.pedal},
		{"voice", r.voice},
	}
}

// models loads the model files, for the instruments are held against them.
func (r *reader) models(root *yaml.Node, o Options) {
	dir, line := o.ModelDir, 0
	for i := 0; root.Kind == yaml.MappingNode && i+1 < len(root.Content); i += 2 {
		if root.Content[i].Value == "models" && dir == "" {
			if s, ok := r.word(root.Content[i+1], "models"); ok {
				dir, line = r.beside(s), root.Content[i].Line
			}
		}
	}
	models, err := drivers.LoadModels(dir)
	if err != nil {
		for _, what := range strings.Split(err.Error(), "\n") { // one mistake a line
			r.add(line, "models", "", "%s", what)
		}
	}
	r.c.Models = models
}

// beside takes a relative path from the file's folder.
func (r *reader) beside(path string) string {
	if filepath.IsAbs(path) {
		return filepath.Clean(path)
	}
	return filepath.Join(filepath.Dir(r.file), path)
}

// Explain prints problems as people read them, one a line.
func Explain(w io.Writer, problems []Problem) {
	for _, p := range problems {
		fmt.Fprintln(w, p)
	}
}
