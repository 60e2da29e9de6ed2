// Steadyrail measures, judges and records the rails of a board under repair.
// Everything it does stands in cmd/internal/cli and below.
package main

import (
	"os"

	"steadyrail/cmd/internal/cli"
)

func main() { os.Exit(cli.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
