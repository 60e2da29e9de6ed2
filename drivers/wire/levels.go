package wire

import "fmt"

// states reports whether the line asks for levels of DTR and RTS: by a word of a
// model or a link, or because one is to be low. High is what every port does by
// itself when it is opened.
func (l Line) states() bool { return l.Levels != "" || l.DTR == "off" || l.RTS == "off" }

// without decides what becomes of a port that does not do the levels. Where they
// were only wished for it is used and says so; where they are needed it is not:
// an adapter that takes its power from them would stay silent, or half alive.
func (p *serialPort) without(not string, l Line) error {
	if l.Levels == "any" {
		p.not = not
		return nil
	}
	why := "and they were asked for"
	if l.LevelsFor != "" {
		why = "and they are needed: " + l.LevelsFor
	}
	return fmt.Errorf("open %s: %w: the adapter does not take %s, %s: use another adapter; ?levels=any behind the link goes on all the same", p.path, ErrSettings, not, why)
}

// Unset names what was wished for and the port does not do; empty: nothing.
func (c *Conn) Unset() string { return c.unset }
