package awake

import (
	"fmt"
	"runtime"

	"golang.org/x/sys/windows"
)

// The flags of SetThreadExecutionState, from the documentation of that function.
const (
	continuous     = 0x80000000
	systemRequired = 0x00000001
)

var setState = windows.NewLazySystemDLL("kernel32.dll").NewProc("SetThreadExecutionState")

// Inhibit asks that the system stays up. The state belongs to a thread, so one
// goroutine keeps its thread until release is called.
func Inhibit(string) (release func(), err error) {
	asked, done, over := make(chan error), make(chan struct{}), make(chan struct{})
	go func() {
		defer close(over)
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		before, _, cause := setState.Call(continuous | systemRequired)
		if before == 0 {
			asked <- fmt.Errorf("%w: %w", ErrCannot, cause)
			return
		}
		asked <- nil
		<-done
		_, _, _ = setState.Call(continuous)
	}()
	if err := <-asked; err != nil {
		<-over
		return nil, err
	}
	return func() { close(done); <-over }, nil
}
