package app

import (
	"context"
	"os/exec"
	"time"

	"steadyrail/dashboards"
	"steadyrail/drivers/pedal"
)

// speakTime bounds one sentence.
const speakTime = 15 * time.Second

// startVoice makes walks heard on the daemon's machine, when that is configured.
// What is said while something is being said replaces what waits.
func (a *App) startVoice() (end func()) {
	argv := a.o.Config.Voice
	if len(argv) == 0 {
		return func() {}
	}
	ctx, cancel := context.WithCancel(context.Background())
	waiting, done := make(chan string, 1), make(chan struct{})
	a.walks.speak = func(text string) {
		select {
		case <-waiting:
		default:
		}
		select {
		case waiting <- text:
		default: // another walk was quicker
		}
	}
	go func() {
		defer close(done)
		for {
			select {
			case text := <-waiting:
				a.speakOnce(ctx, argv, text)
			case <-ctx.Done():
				return
			}
		}
	}()
	return func() { cancel(); <-done }
}

// speakOnce runs the program. No shell sees the text, and Spoken leaves no minus
// at its beginning that could be an option.
func (a *App) speakOnce(ctx context.Context, argv []string, text string) {
	ctx, cancel := context.WithTimeout(ctx, speakTime)
	defer cancel()
	args := append(append([]string{}, argv[1:]...), text)
	if err := exec.CommandContext(ctx, argv[0], args...).Run(); err != nil && ctx.Err() == nil {
		a.log.Warn().Err(err).Str("program", argv[0]).Msg("speak")
	}
}

// startPedal listens to the pedal, when one is configured.
func (a *App) startPedal() (end func()) {
	c := a.o.Config.Pedal
	if c.Input == "" {
		return func() {}
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		pedal.Listen(ctx, c, func(p pedal.Press) { a.pedalPress(ctx, p) }, func(err error) {
			if err != nil {
				a.log.Warn().Err(err).Msg("pedal")
				return
			}
			a.log.Info().Str("input", c.Input).Msg("the pedal is there")
		})
	}()
	return func() { cancel(); <-done }
}

// pedalPress presses the walk that is under way; without one the pedal does
// nothing.
func (a *App) pedalPress(ctx context.Context, p pedal.Press) {
	do := "press"
	if p.Long {
		do = "skip"
	}
	id := a.walkUnderWay()
	if id == "" {
		return
	}
	if _, err := a.DoWalk(ctx, id, dashboards.WalkAct{Do: do}); err != nil {
		a.log.Warn().Err(err).Msg("pedal")
	}
}

// walkUnderWay is the job of a walk: of the job in hand if that walks, else of the
// one walk there is. Of several nobody can say whose the pedal is: none.
func (a *App) walkUnderWay() string {
	if j, err := a.job(""); err == nil {
		if w := a.walkOf(j.id); w != nil && w.active() {
			return j.id
		}
	}
	a.walks.mu.Lock()
	defer a.walks.mu.Unlock()
	var ids []string
	for id, w := range a.walks.byJob {
		if w.active() {
			ids = append(ids, id)
		}
	}
	if len(ids) != 1 {
		return ""
	}
	return ids[0]
}
