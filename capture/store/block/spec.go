package block

import _ "embed"

// Format says in words how a block is read; every job file carries it.
//
//go:embed format.txt
var Format string
