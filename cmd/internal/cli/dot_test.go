package cli_test

import (
	"os"

	"github.com/rogpeppe/go-internal/testscript"
)

// dot FILE writes a picture of one red pixel: a script's files cannot hold one.
func dot(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: dot FILE")
	}
	const png = "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01\x08\x02\x00\x00\x00\x90wS\xde\x00\x00\x00\x0cIDATx\x9cc\xf8\xcf\xc0\x00\x00\x03\x01\x01\x00\xc9\xfe\x92\xef\x00\x00\x00\x00IEND\xaeB`\x82"
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(png), 0o600))
}
