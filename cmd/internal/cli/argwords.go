package cli

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/cobra"
)

var argCount = regexp.MustCompile(`^accepts .*received (\d+)$`)

// argWords says the library's complaint about a number of arguments in words.
func argWords(c *cobra.Command, err error) error {
	m := argCount.FindStringSubmatch(err.Error())
	if m == nil {
		return err
	}
	use := strings.TrimSpace(strings.TrimSuffix(c.UseLine(), "[flags]"))
	switch {
	case m[1] == "0":
		return fmt.Errorf("something is missing: write %s", use)
	case m[1] == "1":
		return fmt.Errorf("one word is not what it takes: write %s", use)
	}
	return fmt.Errorf("%s words are not what it takes: write %s, with quotes around what holds spaces", m[1], use)
}
