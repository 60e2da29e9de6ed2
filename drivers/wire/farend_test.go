//go:build unix

package wire

import (
	"bufio"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// far is a pseudo-terminal with a scripted instrument at its other end.
type far struct {
	device string
	master *os.File
	slave  *os.File // held, as a plugged-in adapter holds its device

	mu   sync.Mutex
	seen []string
}

// plug makes the terminal and answers every line with script, which also may
// write nothing. It is unplugged when the test ends.
func plug(t *testing.T, script func(request string, w io.Writer)) *far {
	t.Helper()
	return plugEnding(t, '\n', script)
}

// plugEnding is plug for another last byte of a request.
func plugEnding(t *testing.T, end byte, script func(request string, w io.Writer)) *far {
	t.Helper()
	master, slave := openPTY(t)
	f := &far{device: slave.Name(), master: master, slave: slave}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		in := bufio.NewReader(master)
		for {
			line, err := in.ReadString(end)
			if err != nil {
				return
			}
			f.mu.Lock()
			f.seen = append(f.seen, strings.TrimSuffix(line, "\n"))
			f.mu.Unlock()
			if script != nil {
				script(strings.TrimRight(line, "\r\n"), master)
			}
		}
	}()
	t.Cleanup(func() { f.unplug(); <-ended })
	return f
}

// unplug lets the device vanish.
func (f *far) unplug() {
	_ = f.master.Close()
	_ = f.slave.Close()
}

func (f *far) requests() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]string(nil), f.seen...)
}

// say writes without being asked, and waits until it has arrived.
func (f *far) say(t *testing.T, text string) {
	t.Helper()
	if _, err := io.WriteString(f.master, text); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "the text to arrive", func() bool { n, err := waiting(f.slave); return err == nil && n >= len(text) })
}

// waitFor polls for something that another process or the kernel does.
func waitFor(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
		if done() {
			return
		}
	}
	t.Fatalf("waited 5 s for %s", what)
}

// openFiles counts this process's descriptors.
func openFiles(t *testing.T) int {
	t.Helper()
	list, err := filepath.Glob("/proc/self/fd/*")
	if err != nil || len(list) == 0 {
		t.Skip("this system does not tell the open descriptors")
	}
	return len(list)
}

func write(text string) func(string, io.Writer) {
	return func(_ string, w io.Writer) { _, _ = io.WriteString(w, text) }
}
