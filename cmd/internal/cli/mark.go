package cli

import (
	"github.com/spf13/cobra"

	"steadyrail/capture"
)

// markOf says with which decimal mark figures are written where no daemon is asked
// that knows it.
type markOf struct{ decimal, config string }

func markFlags(c *cobra.Command) *markOf {
	m := new(markOf)
	c.Flags().StringVar(&m.decimal, "decimal", "", "without a daemon: point or comma in the figures")
	c.Flags().StringVar(&m.config, "config", "", "without a daemon: configuration whose decimal mark is taken")
	return m
}

// read returns the mark: what was named, else the configuration's, else a point.
func (m markOf) read(s streams) (capture.DecimalMark, error) {
	if m.decimal != "" {
		mark, err := capture.ParseDecimalMark(m.decimal)
		if err != nil {
			return mark, usef("--decimal: %w", err)
		}
		return mark, nil
	}
	if m.config == "" {
		return capture.Point, nil
	}
	cfg, err := loadConfig(s, m.config, nil)
	if err != nil {
		return capture.Point, err
	}
	return cfg.Decimal, nil
}
