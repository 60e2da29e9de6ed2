package drivers

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"sort"
	"strings"
	"time"

	"steadyrail/drivers/frames"
	"steadyrail/drivers/modbus"
	"steadyrail/drivers/scpi"
	"steadyrail/drivers/wire"
)

//go:embed models/*.yaml
var builtin embed.FS

// Model is what a model file says. It is a plain value.
type Model struct {
	Name    string // of the file, without .yaml
	File    string // where it was read
	Title   string // for people
	Dialect string
	Source  string // where the facts are from
	Line    wire.Line
	Select  string        // sent with the link's address for {} when the address on a shared link changes; empty: there is none
	AutoOff time.Duration // it switches itself off after so long without a key pressed; 0: never, or not stated
	Named   []string      // words in the model name that such instruments give to *IDN?; capitals
	Plan    scpi.Plan     // of the scpi dialect

	Registers modbus.Plan // of the modbus dialect
	Stream    frames.Plan // of the stream dialect
}

// Acts lists what can be done to instruments of the model: output, limits,
// input.
func (m Model) Acts() []string {
	if acts := dialects[m.Dialect].acts; acts != nil {
		return acts(m)
	}
	return nil
}

// Identifies reports whether the instrument itself can say who it is, as far as
// the model knows: many a clone answers without a serial number.
func (m Model) Identifies() bool {
	if who := dialects[m.Dialect].identifies; who != nil {
		return who(m)
	}
	return false
}

// Models are the model files by name. A nil Models is empty.
type Models map[string]Model

// Names lists the models in order.
func (m Models) Names() []string {
	var out []string
	for name := range m {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}

// Answering names the model whose word is in the model name of an answer to
// *IDN?: "maker,model,serial,firmware". The longest word wins, then the first
// model by name. It is a proposal to a person, who knows better; empty: no word
// is in it.
func (m Models) Answering(answer string) string {
	said := strings.ToUpper(answer)
	if fields := strings.Split(said, ","); len(fields) > 1 {
		said = fields[1]
	}
	best, longest := "", 0
	for _, name := range m.Names() {
		for _, word := range m[name].Named {
			if len(word) > longest && strings.Contains(said, word) {
				best, longest = name, len(word)
			}
		}
	}
	return best
}

// LoadModels reads the built-in models and those in a folder of the user's,
// which win over built-in ones of the same name; "" is no folder. The error
// holds every mistake, each wrapping [ErrModel] with file and line.
func LoadModels(extraDir string) (Models, error) {
	models := Models{}
	err := loadFrom(models, builtin, "models", "built-in models")
	if extraDir != "" {
		err = errors.Join(err, loadFrom(models, os.DirFS(extraDir), ".", extraDir))
	}
	if err != nil {
		return nil, err
	}
	return models, nil
}

func loadFrom(models Models, files fs.FS, dir, shown string) error {
	entries, err := fs.ReadDir(files, dir)
	if err != nil {
		return fmt.Errorf("%w: read folder %s: %w", ErrModel, shown, err)
	}
	var all []error
	for _, e := range entries {
		name, ok := strings.CutSuffix(e.Name(), ".yaml")
		if e.IsDir() || !ok {
			continue
		}
		text, err := fs.ReadFile(files, path.Join(dir, e.Name()))
		if err != nil {
			all = append(all, fmt.Errorf("%w: %w", ErrModel, err))
			continue
		}
		m, err := ParseModel(name, path.Join(shown, e.Name()), text)
		if err != nil {
			all = append(all, err)
			continue
		}
		models[name] = m
	}
	return errors.Join(all...)
}

// ParseModel reads one model file. The error holds every mistake.
func ParseModel(name, file string, text []byte) (Model, error) {
	r := &reader{file: file}
	root := r.document(text)
	m := Model{Name: name, File: file}
	if root != nil {
		r.model(root, &m)
	}
	return m, errors.Join(r.problems...)
}
