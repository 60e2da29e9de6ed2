package notify

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"steadyrail/capture"
)

func TestTerminalSaysASentence(t *testing.T) {
	var out bytes.Buffer
	n := NewTerminal(&out, time.FixedZone("CET", 3600))
	m := message(1)
	_ = n.Notify(t.Context(), m)
	m.Alarm.To, m.Alarm.Say = capture.Latched, "+5 V logic came back: down to 3.087 V, for at most 0.4 s"
	_ = n.Notify(t.Context(), m)
	want := "09:00:01 Urgent: +5 V logic collapsed: from 5.011 V to 3.087 V (AB-0147)\n" +
		"09:00:01 +5 V logic came back: down to 3.087 V, for at most 0.4 s (AB-0147)\n"
	if out.String() != want {
		t.Errorf("said\n%swant\n%s", out.String(), want)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func TestTerminalThatIsGone(t *testing.T) {
	if err := NewTerminal(full{}, nil).Notify(t.Context(), message(1)); !errors.Is(err, ErrPermanent) {
		t.Errorf("got %v", err)
	}
}
