package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"steadyrail/capture"
	"steadyrail/drivers"
	"steadyrail/drivers/wire"
)

// unset says what a port does not do that a model only wished for.
func (s streams) unset(place, what string) {
	s.say("note: %s does not take %s: going on without", place, what)
}

// errUntried marks a model that could not be tried on a port.
var errUntried = errors.New("was not tried")

// listener tries the models of meters that talk by themselves, until one
// understands.
func (o *once) listener(ctx context.Context, models drivers.Models, heard string) (string, error) {
	var tried, untried []string
	for _, name := range models.Names() {
		if models[name].Dialect != "stream" {
			continue
		}
		tried = append(tried, name)
		err := o.understands(ctx, models, name)
		switch {
		case err == nil:
			return name, nil
		case !errors.Is(err, wire.ErrSettings) || strings.Contains(o.link, "levels="):
		case heard == "":
			untried = append(untried, name)
		default: // it talks, so it has what power it needs from somewhere
			plain := o.link
			o.link = withOption(plain, "levels=any")
			if o.understands(ctx, models, name) == nil {
				return name, nil
			}
			o.link = plain
		}
	}
	switch {
	case len(untried) > 0:
		return "", fmt.Errorf("%s %w, for want of settings that this port does not do: --model %s says which", strings.Join(untried, ", "), errUntried, untried[0])
	case heard == "":
		return "", errors.New("nothing was heard")
	case len(tried) == 0:
		return "", fmt.Errorf("%s talks by itself (%s), and no model for such meters is known: name one with --model", o.link, heard)
	}
	return "", fmt.Errorf("%s talks by itself (%s), and none of %s understands it: another rate (?baud=2400 behind the link), or a model file of your own", o.link, heard, strings.Join(tried, ", "))
}

// unnamed is an error of the one instrument of a command, without the name and
// the step that nobody gave it.
type unnamed struct{ error }

func (u unnamed) Error() string {
	text := u.error.Error()
	for _, front := range []string{drivers.ErrConfig.Error() + ": instrument \"meter\": ", "meter: ", "connect: "} {
		text = strings.TrimPrefix(text, front)
	}
	return text
}

func (u unnamed) Unwrap() error { return u.error }

// understands listens with one model. Nothing is sent and nothing is said: it is
// only tried. With the dial at another function it was understood too.
func (o *once) understands(ctx context.Context, models drivers.Models, name string) error {
	in, ch, err := o.open(streams{err: io.Discard}, models, name, "")
	if err != nil {
		return err
	}
	defer in.Close()
	ctx, cancel := context.WithTimeout(ctx, 3*time.Second)
	defer cancel()
	if err := in.Connect(ctx); err != nil {
		return err
	}
	switch r, err := in.Measure(ctx, ch.ID); {
	case errors.Is(err, drivers.ErrNoChannel):
		return nil
	case err == nil && r.Flags.Has(capture.Garbled):
		return wire.ErrGarbled
	default:
		return err
	}
}

// withOption puts an option behind a link.
func withOption(link, option string) string {
	if strings.Contains(link, "?") {
		return link + "&" + option
	}
	return link + "?" + option
}
