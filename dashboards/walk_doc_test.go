package dashboards

import (
	"reflect"
	"slices"
	"strings"
	"testing"
)

// Every field that a walk sends or takes is described, of its kind, and nothing is
// described that does not exist: by the types, so that no example can leave one out.
func TestWalkIsDescribed(t *testing.T) {
	d := readDocument(t)
	d.describes(t, "Walk", schema{Ref: "#/components/schemas/Walk"}, reflect.TypeFor[WalkView]())
	d.describes(t, "walk act", d.Paths["/api/v1/walk"]["post"].RequestBody.Content["application/json"].Schema, reflect.TypeFor[walkBody]())
}

// describes holds a schema against a type.
func (d document) describes(t *testing.T, where string, s schema, of reflect.Type) {
	t.Helper()
	if s.Ref != "" {
		s = d.Components.Schemas[strings.TrimPrefix(s.Ref, "#/components/schemas/")]
	}
	if want := jsonKind(of.Kind()); s.Type != want {
		t.Errorf("%s: described as %q, and is %q", where, s.Type, want)
	}
	switch of.Kind() {
	case reflect.Slice:
		if s.Items == nil {
			t.Errorf("%s: of what it is a list is not described", where)
			return
		}
		d.describes(t, where+"[]", *s.Items, of.Elem())
	case reflect.Struct:
		d.describesFields(t, where, s, of)
	}
}

func (d document) describesFields(t *testing.T, where string, s schema, of reflect.Type) {
	t.Helper()
	var sent []string
	for _, f := range reflect.VisibleFields(of) {
		if f.Anonymous {
			continue
		}
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		sent = append(sent, name)
		inner, ok := s.Properties[name]
		if !ok {
			t.Errorf("%s: %s is not described", where, name)
			continue
		}
		d.describes(t, where+"."+name, inner, f.Type)
	}
	for name := range s.Properties {
		if !slices.Contains(sent, name) {
			t.Errorf("%s: %s is described and does not exist", where, name)
		}
	}
}

func jsonKind(k reflect.Kind) string {
	switch k {
	case reflect.Struct, reflect.Map:
		return "object"
	case reflect.Slice:
		return "array"
	case reflect.String:
		return "string"
	case reflect.Bool:
		return "boolean"
	case reflect.Float64:
		return "number"
	}
	return "integer"
}
