package cli

import (
	"fmt"
	"io"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"steadyrail/drivers/pedal"
	"steadyrail/drivers/wire"
)

func portsCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "ports [--probe NAME...]",
		Short: "List the ports that instruments may hang on, without opening any",
		Long: `List the serial ports, USB test instruments and HID bridges of this computer: what they are,
who holds them, whether you may open them, and the link to write into a configuration. Nothing
is opened and nothing is sent.

With --probe the named ports, and only those, are listened to and then asked who is there:
  steadyrail ports --probe /dev/ttyUSB0 --baud 9600,19200
It shows first what it will do, to the byte, and asks. What talks by itself is left alone. It
ends with 0 when something was heard from each, 1 when one stayed silent, 3 when one could not
be opened.`,
	}
	asJSON := jsonFlag(c)
	var p prober
	f := c.Flags()
	probing := f.Bool("probe", false, "ask who is there, on the named ports only")
	f.BoolVar(&p.yes, "yes", false, "do not ask before anything is sent")
	f.IntSliceVar(&p.bauds, "baud", []int{9600}, "rates to try on serial ports, one after the other")
	c.RunE = func(cmd *cobra.Command, names []string) error {
		list, err := wire.Ports()
		if err != nil {
			return err
		}
		switch {
		case *probing && len(names) == 0:
			return usef("ports --probe: name the ports that may be asked, such as --probe /dev/ttyUSB0; nothing was opened")
		case *probing:
			return p.run(cmd.Context(), s, list, names, *asJSON)
		case len(names) > 0:
			return usef("ports: %s: ports are named for --probe only; without it all are listed and none is opened", names[0])
		case *asJSON:
			return writeJSON(s.out, portViews(list))
		case len(list) == 0:
			s.say("no port found that an instrument could hang on; those on the network need no entry here")
		}
		for _, p := range list {
			showPort(s.out, p)
		}
		if len(list) > 0 && wire.HoldersHidden() {
			s.say("what programs of other users hold cannot be seen by you: sudo steadyrail ports shows it")
		}
		showPedals(s.out, pedal.List())
		return nil
	}
	return c
}

// showPedals prints the input devices that may be a foot pedal for the walk: those
// with few keys, and all that have a path by identity. None was opened.
func showPedals(w io.Writer, list []pedal.Device) {
	for _, d := range list {
		if !d.Few && !strings.HasPrefix(d.Input, "/") {
			continue
		}
		kind := "a keyboard, or a pedal that says so"
		if d.Few {
			kind = "a few keys: perhaps a pedal"
		}
		fmt.Fprintf(w, "%s  %s\n    pedal: {input: %q}\n", d.Name, kind, d.Input)
	}
}

// showPort prints a port in lines that a terminal of 80 columns holds, the one
// to paste last.
func showPort(w io.Writer, p wire.Port) {
	fmt.Fprintf(w, "%s  %s\n", p.Name, portKind(p))
	row := func(what, text string) {
		if text != "" {
			fmt.Fprintf(w, "    %-8s %s\n", what, text)
		}
	}
	row("adapter", adapterOf(p))
	row("held by", p.Holder)
	row("rights", rights(p))
	if p.Link == "" {
		row("link", "none: it cannot be told from another of its kind; unplug one")
		return
	}
	fmt.Fprintf(w, "    link: %s\n", p.Link)
}

// portView is a port for scripts.
type portView struct {
	Name    string `json:"name"`
	Kind    string `json:"kind"`
	Vendor  string `json:"vendor_id,omitempty"`
	Model   string `json:"product_id,omitempty"`
	Product string `json:"product,omitempty"`
	Serial  string `json:"serial_number,omitempty"`
	Holder  string `json:"held_by,omitempty"`
	Rights  string `json:"rights,omitempty"`
	MayOpen bool   `json:"may_open"` // as far as it can be known without opening it
	Link    string `json:"link,omitempty"`
}

func portViews(list []wire.Port) []portView {
	out := []portView{}
	for _, p := range list {
		out = append(out, portView{p.Name, p.Kind, p.VID, p.PID, p.Product, p.Serial, p.Holder, rights(p), mayOpen(p), p.Link})
	}
	return out
}

// rights says whether this user may open a port, and else what gives the right.
func rights(p wire.Port) string {
	switch {
	case p.Access != "":
		return p.Access
	case runtime.GOOS == "linux":
		return "you may open it"
	}
	return "" // not known without opening it
}

// portKind says in words what a port is.
func portKind(p wire.Port) string {
	what := map[string]string{
		wire.KindSerial: "serial port", wire.KindUSBTMC: "USB test instrument", wire.KindHID: "HID bridge",
	}[p.Kind]
	if what == "" {
		what = p.Kind
	}
	if p.VID == "" {
		return what + ", not on USB"
	}
	return what
}

func adapterOf(p wire.Port) string {
	if p.VID == "" {
		return p.Product
	}
	parts := []string{p.VID + ":" + p.PID}
	if p.Product != "" {
		parts = append(parts, p.Product)
	}
	if p.Serial != "" {
		parts = append(parts, "serial number "+p.Serial)
	} else {
		parts = append(parts, "no serial number")
	}
	return strings.Join(parts, ", ")
}
