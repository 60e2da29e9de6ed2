package drivers

import (
	"fmt"
	"strings"

	"steadyrail/drivers/wire"
)

// Tour lists what connecting an instrument and reading each of its channels
// once will send, in order, for people to see before anything is opened: phrases
// as they are, what is no text in words. After an answer that cannot be read it
// is asked again. Errors wrap [ErrConfig].
func Tour(cfg Config, models Models) ([]string, error) {
	b, err := prepare(cfg, models)
	if err != nil {
		return nil, err
	}
	address, _ := wire.ParseAddress(cfg.Link) // prepare has read it
	line := b.model.Line.With(address.Line)
	out := append([]string(nil), line.Opening...)
	if b.model.Select != "" {
		out = append(out, strings.Replace(b.model.Select, "{}", address.Unit, 1))
	}
	if tour := dialects[b.model.Dialect].tour; tour != nil {
		out = append(out, tour(b.model)...)
	}
	return append(out, line.Closing...), nil
}

// registerTour says the requests of a Modbus instrument in words: their bytes
// hold a unit and a check sum that tell a person nothing.
func registerTour(m Model) (out []string) {
	if m.Registers.Identity.Model != nil || m.Registers.Identity.Serial != nil || m.Registers.Identity.Maker != nil {
		out = append(out, "read the registers of its identity")
	}
	for _, c := range m.Registers.Channels {
		out = append(out, fmt.Sprintf("read %s %d, for %s", c.Table, c.Register, c.Info.ID))
	}
	return out
}

func streamTour(m Model) []string {
	if len(m.Stream.Ask) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("the bytes % X", m.Stream.Ask)}
}
