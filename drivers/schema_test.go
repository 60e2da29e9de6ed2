package drivers

import (
	"encoding/json"
	"fmt"
	"os"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
	"steadyrail/drivers/frames"
	"steadyrail/drivers/scpi"
)

// schema is the part of JSON Schema 2020-12 that models/schema.json uses. A
// keyword that is not here fails the test: what is not checked promises nothing.
type schema struct {
	Schema      string             `json:"$schema"`
	Title       string             `json:"title"`
	Description string             `json:"description"`
	Ref         string             `json:"$ref"`
	Defs        map[string]*schema `json:"$defs"`
	Type        any                `json:"type"` // a word or a list of words
	Const       any                `json:"const"`
	Enum        []any              `json:"enum"`
	Pattern     string             `json:"pattern"`
	MinLength   *int               `json:"minLength"`
	Minimum     *float64           `json:"minimum"`
	Maximum     *float64           `json:"maximum"`
	MinItems    *int               `json:"minItems"`
	Items       *schema            `json:"items"`
	Properties  map[string]*schema `json:"properties"`
	Additional  *bool              `json:"additionalProperties"`
	Required    []string           `json:"required"`
	AnyOf       []*schema          `json:"anyOf"`
	OneOf       []*schema          `json:"oneOf"`
}

func published(t *testing.T) *schema {
	t.Helper()
	file, err := os.Open("models/schema.json")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	s := &schema{}
	d := json.NewDecoder(file)
	d.DisallowUnknownFields()
	if err := d.Decode(s); err != nil {
		t.Fatal(err)
	}
	return s
}

// validate returns what is wrong with a value, after the Core and Validation
// documents of 2020-12.
func (s *schema) validate(v any, defs map[string]*schema, at string) []string {
	if s.Ref != "" {
		if def := defs[strings.TrimPrefix(s.Ref, "#/$defs/")]; def != nil {
			return def.validate(v, defs, at)
		}
		return []string{at + ": " + s.Ref + " leads nowhere"}
	}
	var bad []string
	wrong := func(format string, args ...any) { bad = append(bad, at+": "+fmt.Sprintf(format, args...)) }
	if s.Type != nil && !slices.ContainsFunc(words(s.Type), func(w string) bool { return isOf(w, v) }) {
		wrong("%v is no %v", v, s.Type)
	}
	if s.Const != nil && v != s.Const {
		wrong("%v is not %v", v, s.Const)
	}
	if s.Enum != nil && !slices.Contains(s.Enum, v) {
		wrong("%v is none of %v", v, s.Enum)
	}
	switch v := v.(type) {
	case string:
		if s.Pattern != "" && !regexp.MustCompile(s.Pattern).MatchString(v) {
			wrong("%q does not fit %s", v, s.Pattern)
		}
		if s.MinLength != nil && len(v) < *s.MinLength {
			wrong("it is empty")
		}
	case float64:
		if s.Minimum != nil && v < *s.Minimum || s.Maximum != nil && v > *s.Maximum {
			wrong("%g is out of bounds", v)
		}
	case []any:
		if s.MinItems != nil && len(v) < *s.MinItems {
			wrong("there are too few")
		}
		for i, e := range v {
			if s.Items != nil {
				bad = append(bad, s.Items.validate(e, defs, at+"/"+strconv.Itoa(i))...)
			}
		}
	case map[string]any:
		bad = append(bad, s.members(v, defs, at)...)
	}
	return append(bad, s.choice(v, defs, at)...)
}

func (s *schema) members(v map[string]any, defs map[string]*schema, at string) (bad []string) {
	for _, key := range s.Required {
		if _, ok := v[key]; !ok {
			bad = append(bad, at+": "+key+" is missing")
		}
	}
	for key, e := range v {
		p := s.Properties[key]
		switch {
		case p != nil:
			bad = append(bad, p.validate(e, defs, at+"/"+key)...)
		case s.Additional != nil && !*s.Additional:
			bad = append(bad, at+": "+key+" is not known")
		}
	}
	return bad
}

func (s *schema) choice(v any, defs map[string]*schema, at string) []string {
	if s.AnyOf == nil && s.OneOf == nil {
		return nil
	}
	fits, why := 0, []string(nil)
	for _, one := range slices.Concat(s.AnyOf, s.OneOf) {
		if w := one.validate(v, defs, at); len(w) == 0 {
			fits++
		} else if why == nil || len(w) < len(why) {
			why = w
		}
	}
	switch {
	case fits == 0:
		return why
	case fits > 1 && s.OneOf != nil:
		return []string{at + ": more than one fits"}
	}
	return nil
}

func words(t any) (out []string) {
	if w, ok := t.(string); ok {
		return []string{w}
	}
	for _, w := range t.([]any) {
		out = append(out, w.(string))
	}
	return out
}

func isOf(kind string, v any) bool {
	switch v := v.(type) {
	case string:
		return kind == "string"
	case bool:
		return kind == "boolean"
	case float64:
		return kind == "number" || kind == "integer" && v == float64(int64(v))
	case []any:
		return kind == "array"
	case map[string]any:
		return kind == "object"
	}
	return false
}

// asJSON reads YAML as an editor does that knows the schema.
func asJSON(t *testing.T, text []byte) any {
	t.Helper()
	var v any
	if err := yaml.Unmarshal(text, &v); err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(v)
	if err == nil {
		err = json.Unmarshal(b, &v)
	}
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func eachBuiltin(t *testing.T, do func(name string, text []byte)) {
	t.Helper()
	files, err := builtin.ReadDir("models")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		text, err := builtin.ReadFile("models/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		do(f.Name(), text)
	}
}

func TestModelsFitTheSchema(t *testing.T) {
	s := published(t)
	eachBuiltin(t, func(name string, text []byte) {
		for _, bad := range s.validate(asJSON(t, text), s.Defs, name) {
			t.Error(bad)
		}
	})
}

// TestSchemaRefuses what the strict reader refuses, where a schema can say it.
func TestSchemaRefuses(t *testing.T) {
	s := published(t)
	if bad := s.validate(asJSON(t, []byte(tiny)), s.Defs, "tiny"); len(bad) > 0 {
		t.Fatal(bad)
	}
	for name, text := range map[string]string{
		"unknown key":       tiny + "colour: red\n",
		"no source":         strings.Replace(tiny, "source: manual, page 12\n", "", 1),
		"another dialect":   strings.Replace(tiny, "scpi", "morse", 1),
		"unknown quantity":  strings.Replace(tiny, "dc_voltage", "loudness", 1),
		"no channels":       "title: a\ndialect: scpi\nsource: s\nchannels: []\n",
		"not a query":       strings.Replace(tiny, "READ?", "READ", 1),
		"two queries":       strings.Replace(tiny, "READ?", "READ?;FETC?", 1),
		"time without unit": tiny + "auto_off: 15\n",
		"unknown quirk":     tiny + "quirks: [moody]\n",
		"baud below zero":   tiny + "line: {baud: -1}\n",
		"answered opening":  tiny + "line: {opening: [\"A?\"]}\n",
		"no place":          tiny + "    fix_range: RANG 10\n",
		"key of modbus":     tiny + "    register: 5\n",
	} {
		if bad := s.validate(asJSON(t, []byte(text)), s.Defs, name); len(bad) == 0 {
			t.Errorf("%s: the schema takes it", name)
		}
		if _, err := ParseModel("tiny", "tiny.yaml", []byte(text)); err == nil {
			t.Errorf("%s: the reader takes it", name)
		}
	}
}

// rest uses the mappings that no shipped model has.
const rest = `title: rest
dialect: scpi
source: s
identity: {ask: "ID?", pattern: "(?P<model>.*)"}
channels: [{name: volts, quantity: dc_voltage, read: "A?"}]
output: {on: "A", off: "B", ask: "C?"}
limiting: {ask: "A?", mask: 1}
`

// table is the keys of one mapping, the needed ones with a mark.
func table(keys []string, needed func(string) bool) string {
	var out []string
	for _, k := range keys {
		if needed(k) {
			k += "!"
		}
		out = append(out, k)
	}
	sort.Strings(out)
	return strings.Join(out, " ")
}

// TestSchemaHasTheReadersKeys: every mapping that the reader knows is a
// definition with the same keys, of which the same are needed, and the other
// way round.
func TestSchemaHasTheReadersKeys(t *testing.T) {
	read := map[string]string{} // table to where it is
	take := func(name string, text []byte) {
		r := &reader{file: name, note: func(dialect, what string, list []field) {
			var keys []string
			for _, f := range list {
				keys = append(keys, f.key)
			}
			read[table(keys, func(k string) bool { return find(list, k).needed })] = dialect + " " + what
		}}
		var m Model
		if n := r.document(text); n != nil {
			r.model(n, &m)
		}
		for _, err := range r.problems {
			t.Errorf("%s: %v", name, err)
		}
	}
	eachBuiltin(t, take)
	take("rest.yaml", []byte(rest))
	defined := map[string]string{}
	for name, def := range published(t).Defs {
		if def.Properties == nil {
			continue
		}
		if def.Additional == nil || *def.Additional {
			t.Errorf("%s takes keys that are not known", name)
		}
		var keys []string
		for k := range def.Properties {
			keys = append(keys, k)
		}
		defined[table(keys, func(k string) bool { return slices.Contains(def.Required, k) })] = name
	}
	for keys, where := range read {
		if defined[keys] == "" {
			t.Errorf("the reader's mapping %q is not in the schema: %s", where, keys)
		}
	}
	for keys, name := range defined {
		if read[keys] == "" {
			t.Errorf("the reader has no mapping like the schema's %q: %s", name, keys)
		}
	}
}

// TestSchemaHasTheWords: closed lists are the reader's own.
func TestSchemaHasTheWords(t *testing.T) {
	s := published(t)
	same := func(what string, got []any, want []string) {
		var have []string
		for _, v := range got {
			have = append(have, v.(string))
		}
		sort.Strings(have)
		sort.Strings(want)
		if !slices.Equal(have, want) {
			t.Errorf("%s: the schema has %v, the reader %v", what, have, want)
		}
	}
	var quantities []string
	for q := capture.Quantity(0); q < 64; q++ {
		if got, err := capture.ParseQuantity(q.String()); err == nil && got == q && q != capture.NoQuantity {
			quantities = append(quantities, q.String())
		}
	}
	same("quantity", s.Defs["scpi_channel"].Properties["quantity"].Enum, quantities)
	same("quirks", s.Defs["scpi_model"].Properties["quirks"].Items.Enum, scpi.Quirks())
	same("means", s.Defs["stream_word"].Properties["means"].Enum, frames.Meanings())
	var dialects []string
	for _, one := range s.OneOf {
		dialects = append(dialects, s.Defs[strings.TrimPrefix(one.Ref, "#/$defs/")].Properties["dialect"].Const.(string))
	}
	if !slices.Equal(dialects, dialectNames()) {
		t.Errorf("dialects: the schema has %v, the reader %v", dialects, dialectNames())
	}
}
