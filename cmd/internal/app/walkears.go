package app

// startVoice makes walks heard on the daemon's machine, when that is configured.
func (a *App) startVoice() (end func()) { return func() {} }

// startPedal listens to the pedal, when one is configured.
func (a *App) startPedal() (end func()) { return func() {} }
