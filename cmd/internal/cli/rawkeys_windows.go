package cli

import (
	"os"

	"golang.org/x/sys/windows"
)

// makeRaw has a console hand every key on at once, unseen.
func makeRaw(f *os.File) (restore func(), err error) {
	h := windows.Handle(f.Fd())
	var before uint32
	if err := windows.GetConsoleMode(h, &before); err != nil {
		return nil, err
	}
	raw := before &^ (windows.ENABLE_ECHO_INPUT | windows.ENABLE_LINE_INPUT | windows.ENABLE_PROCESSED_INPUT)
	if err := windows.SetConsoleMode(h, raw); err != nil {
		return nil, err
	}
	return func() { _ = windows.SetConsoleMode(h, before) }, nil
}
