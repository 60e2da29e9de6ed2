package configs

import _ "embed"

// ExampleBoard is the text of board.yaml, the sheet of the Alderbrook 88's
// board. The demo opens its job with it.
//
//go:embed board.yaml
var ExampleBoard string
