package store

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"

	"steadyrail/capture"
)

// number is a float64 that JSON can always carry: what JSON has no number for
// is a text.
type number float64

func (n number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	switch {
	case math.IsNaN(v):
		return []byte(`"NaN"`), nil
	case math.IsInf(v, 1):
		return []byte(`"+Inf"`), nil
	case math.IsInf(v, -1):
		return []byte(`"-Inf"`), nil
	}
	return json.Marshal(v)
}

func (n *number) UnmarshalJSON(b []byte) error {
	switch string(b) {
	case `"NaN"`:
		*n = number(math.NaN())
	case `"+Inf"`:
		*n = number(math.Inf(1))
	case `"-Inf"`:
		*n = number(math.Inf(-1))
	default:
		return json.Unmarshal(b, (*float64)(n))
	}
	return nil
}

// The JSON forms with numbers that may be anything. The outer field hides the
// embedded one of the same name.
type actBody struct {
	capture.Act
	Value number `json:"value"`
}

type transitionBody struct {
	capture.Transition
	Value number `json:"value"`
	Limit number `json:"limit"`
}

// toJSON writes v without escaping what only HTML cares about, so that the
// file reads well in a shell.
func toJSON(v any) (string, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return "", err
	}
	return string(bytes.TrimSuffix(b.Bytes(), []byte("\n"))), nil
}

// encodeItem returns the kind and JSON body of an item row.
func encodeItem(item capture.Item) (kind, body string, err error) {
	var v any = item
	switch it := item.(type) {
	case capture.Sheet:
		kind = "sheet"
	case capture.Roster:
		kind = "roster"
	case capture.RuleSet:
		kind = "rules"
	case capture.Placement:
		kind = "placement"
	case capture.Gap:
		kind = "gap"
	case capture.Act:
		kind, v = "act", actBody{it, number(it.Value)}
	default:
		return "", "", fmt.Errorf("a %T is not kept in the record", item)
	}
	body, err = toJSON(v)
	return kind, body, err
}

// decodeItem is the inverse of encodeItem.
func decodeItem(kind, body string) (capture.Item, error) {
	switch kind {
	case "sheet":
		return into[capture.Sheet](kind, body)
	case "roster":
		return into[capture.Roster](kind, body)
	case "rules":
		return into[capture.RuleSet](kind, body)
	case "placement":
		return into[capture.Placement](kind, body)
	case "gap":
		return into[capture.Gap](kind, body)
	case "act":
		b, err := into[actBody](kind, body)
		b.Act.Value = float64(b.Value)
		return b.Act, err
	}
	return nil, fmt.Errorf("record of unknown kind %q", kind)
}

func into[T any](kind, body string) (v T, err error) {
	if err = json.Unmarshal([]byte(body), &v); err != nil {
		err = fmt.Errorf("read a record of kind %s: %w", kind, err)
	}
	return v, err
}

func encodeTransition(t *capture.Transition) (string, error) {
	return toJSON(transitionBody{*t, number(t.Value), number(t.Limit)})
}

func decodeTransition(body string) (capture.Transition, error) {
	b, err := into[transitionBody]("transition", body)
	b.Transition.Value, b.Transition.Limit = float64(b.Value), float64(b.Limit)
	return b.Transition, err
}

// exact scans a number of a format 1 file: zero is the integer 0 there, and a
// NaN a blob of its bits.
type exact float64

// Scan takes a column's value.
func (x *exact) Scan(src any) error {
	switch v := src.(type) {
	case float64:
		*x = exact(v)
	case int64:
		*x = exact(v)
	case []byte:
		if len(v) != 8 {
			return fmt.Errorf("a number stored in %d bytes, not 8", len(v))
		}
		*x = exact(math.Float64frombits(binary.LittleEndian.Uint64(v)))
	default:
		return fmt.Errorf("a number stored as %T", src)
	}
	return nil
}
