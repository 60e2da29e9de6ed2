package configs

import (
	"slices"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"steadyrail/capture"
)

// RulesFile is the rules and formulas of a file, to judge a stored job with.
type RulesFile struct {
	File     string
	Rules    []capture.Rule
	Formulas []capture.Formula

	read *reader
}

// LoadRules reads the keys rules and formulas, written as in a configuration.
// A whole configuration is taken too: its other keys are passed over unread,
// the job to judge brings its own rails and instruments. A key that no
// configuration has is a problem. With any problem the file is nil.
func LoadRules(path string) (*RulesFile, []Problem) {
	data, problem := readFile(path)
	if problem != nil {
		return nil, []Problem{*problem}
	}
	r := &reader{mistakes: mistakes{file: path}, c: &Config{File: path}}
	if !utf8.Valid(data) {
		r.add(0, "", "save it as UTF-8", "the file is not text in UTF-8")
		return nil, r.list
	}
	root := r.parse(data)
	if root == nil {
		return nil, r.list
	}
	r.rulesOnly(root)
	if len(r.list) > 0 {
		return nil, inOrder(r.list)
	}
	return &RulesFile{File: path, Rules: r.c.Rules, Formulas: r.c.Formulas, read: r}, nil
}

func (r *reader) rulesOnly(root *yaml.Node) {
	fields := r.topFields()
	for i, f := range fields {
		if f.name != "rules" && f.name != "formulas" {
			fields[i].read = func(*yaml.Node, string) {}
		}
	}
	lines := r.mapping(root, "", fields)
	if lines != nil && lines["rules"] == 0 && lines["formulas"] == 0 {
		r.add(0, "rules", "write rules: or formulas:, as in a configuration", "missing: the file says nothing to judge by")
	}
}

// Check holds the file against a job. Rules of rails that the job does not have
// are none of its business, as when a job is opened; they are named in
// elsewhere, for a slip of the pen looks the same. A rule may name any of the
// formulas that are given: the file's, and what stays of the job's.
func (f *RulesFile) Check(sheet capture.Sheet, roster capture.Roster, formulas []capture.Formula) (elsewhere []string, problems []Problem) {
	r := &reader{mistakes: mistakes{file: f.File}, c: &Config{Formulas: formulas}, written: slices.Clone(f.read.written), formulas: f.read.formulas, about: roster.Channel}
	r.written = slices.DeleteFunc(r.written, func(w writtenRule) bool {
		_, there := sheet.Rail(w.rule.Rail)
		if !there {
			elsewhere = append(elsewhere, w.rule.Name)
		}
		return !there
	})
	r.checkFormulas()
	r.checkRules()
	return elsewhere, inOrder(r.list)
}
