package configs

import (
	"reflect"
	"testing"

	"steadyrail/rules/diagnose"
)

// What is written reads back to the same board.
func TestWriteBoardReadsBack(t *testing.T) {
	b, problems := LoadBoard("board.yaml")
	if problems != nil {
		t.Fatal(problems)
	}
	b.Name, b.Loads[0].Name = `odd "name": {x}, #1`, "yes"
	b.Priors = []diagnose.Prior{{Part: "C104", Kind: diagnose.Leaky, Times: 2.5, Source: "our repairs: 4 of 11"}}
	b.Points = append(b.Points, diagnose.TracePoint{Name: "TP3", Rail: "+12 V audio"}, diagnose.TracePoint{Name: "C121", Rail: "+12 V audio"})
	b.Converters[0].Shape = diagnose.Isolated
	text := WriteBoard(*b)
	again, problems := ParseBoard("again", text)
	if problems != nil {
		t.Fatalf("%v\n%s", problems, text)
	}
	if !reflect.DeepEqual(again, b) {
		t.Errorf("read back:\n%+v\nwritten:\n%+v\n%s", again, b, text)
	}
}
