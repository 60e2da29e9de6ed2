package table

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// Take says what a column is taken as.
type Take struct {
	Column   string            // name or number, from 1
	Channel  capture.ChannelID // with one slash: "scope/volts"
	Quantity capture.Quantity  // [capture.NoQuantity]: by the unit
	Unit     string            // empty: as the file says, else the quantity's base unit
}

var channelForm = regexp.MustCompile(`^[\pL\pN][\pL\pN ._+-]{0,40}/[\pL\pN][\pL\pN ._+-]{0,40}$`)

// ParseTake reads "COLUMN=CHANNEL", "COLUMN=CHANNEL:QUANTITY" and
// "COLUMN=CHANNEL:QUANTITY:UNIT"; a quantity left empty follows from the unit. A
// channel without a slash belongs to the instrument "import".
func ParseTake(s string) (Take, error) {
	i := strings.LastIndexByte(s, '=')
	if i <= 0 || i == len(s)-1 {
		return Take{}, fmt.Errorf("%q does not say what a column is: write 'CH1=scope/volts' or 'CH1=scope/volts:dc_voltage:mV'", s)
	}
	parts := strings.Split(s[i+1:], ":")
	if len(parts) > 3 {
		return Take{}, fmt.Errorf("%q: write at most channel, quantity and unit: 'CH1=scope/volts:dc_voltage:mV'", s)
	}
	parts = append(parts, "", "")
	t := Take{Column: strings.TrimSpace(s[:i]), Unit: parts[2]}
	if !strings.Contains(parts[0], "/") {
		parts[0] = "import/" + parts[0]
	}
	t.Channel = capture.ChannelID(parts[0])
	if _, byEye := t.Channel.ByEyeMeter(); byEye || !channelForm.MatchString(parts[0]) {
		return Take{}, fmt.Errorf("%q is no channel: write INSTRUMENT/INPUT in letters and digits, such as scope/volts", parts[0])
	}
	var err error
	if parts[1] != "" {
		t.Quantity, err = capture.ParseQuantity(parts[1])
	}
	return t, err
}

// find returns the number, from 0, of the column that a person means.
func (l *Layout) find(named string) (int, error) {
	named = strings.TrimSpace(named)
	var found []int
	for i, c := range l.Columns {
		if strings.EqualFold(c.Name, named) {
			found = append(found, i)
		}
	}
	if len(found) == 1 {
		return found[0], nil
	}
	if len(found) > 1 {
		return 0, unclear("several columns are called %s: name one by its number: %s", named, l.list())
	}
	if n, err := strconv.Atoi(named); err == nil && n >= 1 && n <= len(l.Columns) {
		return n - 1, nil
	}
	return 0, unclear("there is no column %q: %s", named, l.list())
}

// list names the columns with their numbers.
func (l *Layout) list() string {
	var out []string
	for i, c := range l.Columns {
		if i == 16 {
			out = append(out, "...")
			break
		}
		out = append(out, itoa(i+1)+" is "+c.Name)
	}
	return strings.Join(out, ", ")
}

// assign decides what each column is taken as.
func assign(l *Layout, takes []Take) error {
	for _, t := range takes {
		i, err := l.find(t.Column)
		if err != nil {
			return err
		}
		if i == l.Clock.Column || i == l.Clock.Second || l.Columns[i].Channel != "" {
			return unclear("column %d, %s, is taken already", i+1, l.Columns[i].Name)
		}
		if l.Columns[i].kind != kindFigure {
			return unclear("column %d, %s, has no numbers", i+1, l.Columns[i].Name)
		}
		if err := l.Columns[i].become(t, i); err != nil {
			return err
		}
	}
	if len(takes) == 0 {
		if err := l.takeAll(); err != nil {
			return err
		}
	}
	taken := l.Taken()
	for k, i := range taken {
		for _, j := range taken[:k] {
			if l.Columns[i].Channel == l.Columns[j].Channel {
				return unclear("columns %d and %d would both be channel %s", j+1, i+1, l.Columns[i].Channel)
			}
		}
	}
	return nil
}

func (c *Column) become(t Take, i int) error {
	if t.Unit != "" {
		c.Unit = t.Unit
	}
	c.Channel, c.Quantity = t.Channel, t.Quantity
	if c.Unit == "" {
		if t.Quantity == capture.NoQuantity {
			return unclear("column %d, %s, does not say its unit: give --take '%[2]s=%s:dc_voltage' or the quantity that it is", i+1, c.Name, t.Channel)
		}
		return nil
	}
	u, ok := parseUnit(c.Unit)
	if !ok {
		return unclear("column %d, %s: the unit %s is not understood: say it as V, mV, A, mA, ohm, kohm, uF, Hz, degC, W or %%, such as --take '%[2]s=%[4]s:dc_voltage:mV'", i+1, c.Name, quoted(c.Unit), t.Channel)
	}
	if c.Quantity == capture.NoQuantity {
		c.Quantity = u.quantity()
	}
	if c.Quantity == capture.NoQuantity || c.Quantity.Unit() != u.base {
		return unclear("column %d, %s, in %s cannot be %s", i+1, c.Name, c.Unit, quoted(c.Quantity.String()))
	}
	c.shift = u.shift
	return nil
}

// takeAll takes every column of numbers, under names made of the header's.
func (l *Layout) takeAll() error {
	var used []capture.ChannelID
	for i := range l.Columns {
		c := &l.Columns[i]
		if c.kind != kindFigure || i == l.Clock.Column || i == l.Clock.Second || indexName(c.Name) && c.Unit == "" {
			continue
		}
		name := slug(c.Name)
		ch := capture.ChannelID("import/" + name)
		for n := 2; slices.Contains(used, ch); n++ {
			ch = capture.ChannelID("import/" + name + "-" + itoa(n))
		}
		used = append(used, ch)
		if err := c.become(Take{Channel: ch}, i); err != nil {
			return fmt.Errorf("%w; or name only the columns that you want", err)
		}
	}
	if len(used) == 0 {
		return unclear("there is no column of numbers beside the time: %s", l.list())
	}
	return nil
}

// slug makes a channel's name of a header: small letters, digits and dashes.
func slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			b.WriteRune(r)
		} else if b.Len() > 0 && !strings.HasSuffix(b.String(), "-") {
			b.WriteByte('-')
		}
		if b.Len() >= 32 {
			break
		}
	}
	if out := strings.Trim(b.String(), "-"); out != "" {
		return out
	}
	return "value"
}
