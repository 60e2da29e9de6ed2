//go:build unix

package wire

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"go.bug.st/serial"
)

// TestLibraryTraps shows what the library does, so that the guards beside it
// are known to guard against something. If one of these is mended upstream the
// test says so and the guard may go.
func TestLibraryTraps(t *testing.T) {
	f := plug(t, nil)
	port, err := serial.Open(f.device, &serial.Mode{BaudRate: 9600})
	if err != nil {
		t.Fatal(err)
	}
	if err := port.SetReadTimeout(time.Millisecond); err != nil {
		t.Fatal(err)
	}
	if n, err := port.Read(make([]byte, 10)); n != 0 || err != nil {
		t.Logf("a read time-out is now %d, %v: the library has changed", n, err)
	}
	if err := port.Close(); err != nil {
		t.Fatal(err)
	}
	files := takeNumbers(t, 8)
	_, err = port.Write([]byte("OUTP OFF\n"))
	if hit := strayBytes(t, files); hit == "" {
		t.Logf("a write after Close now returns %v and hits nothing: the library has changed", err)
	}
}

// takeNumbers creates empty files, which take the lowest free descriptors.
func takeNumbers(t *testing.T, n int) []*os.File {
	t.Helper()
	dir := t.TempDir()
	var files []*os.File
	for i := range n {
		file, err := os.Create(filepath.Join(dir, fmt.Sprint(i)))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = file.Close() })
		files = append(files, file)
	}
	return files
}

// strayBytes returns what was written into files that nobody wrote to.
func strayBytes(t *testing.T, files []*os.File) string {
	t.Helper()
	var hit strings.Builder
	for _, f := range files {
		b, err := os.ReadFile(f.Name())
		if err != nil {
			t.Fatal(err)
		}
		hit.Write(b)
	}
	return hit.String()
}

// TestNothingIsWrittenAfterClose closes a link while four goroutines send on
// it, and lets new files take the descriptor's number at once.
func TestNothingIsWrittenAfterClose(t *testing.T) {
	for round := range 20 {
		f := plug(t, nil)
		conn := openTest(t, f.device, quick())
		var senders sync.WaitGroup
		for range 4 {
			senders.Go(func() {
				for conn.Send(bg, "OUTP OFF") == nil {
				}
				for range 20 {
					if err := conn.Send(bg, "OUTP OFF"); err == nil {
						t.Error("a send after Close went through")
					}
					_, _ = conn.Query(bg, "READ?")
					_ = conn.Drain(bg)
				}
			})
		}
		time.Sleep(time.Duration(round) * 100 * time.Microsecond) // another moment each round
		if err := conn.Close(); err != nil {
			t.Fatal(err)
		}
		files := takeNumbers(t, 8)
		senders.Wait()
		if hit := strayBytes(t, files); hit != "" {
			t.Fatalf("round %d: %q stands in a file of somebody else", round, hit)
		}
		f.unplug()
	}
}

// TestNothingIsWrittenAfterLoss is the same for a port that vanished.
func TestNothingIsWrittenAfterLoss(t *testing.T) {
	f := plug(t, write("1\n"))
	conn := openTest(t, f.device, quick())
	f.unplug()
	if _, err := conn.Query(bg, "READ?"); !errors.Is(err, ErrGone) {
		t.Fatalf("got %v", err)
	}
	files := takeNumbers(t, 8)
	for range 10 {
		if err := conn.Send(bg, "OUTP OFF"); !errors.Is(err, ErrGone) {
			t.Fatalf("got %v", err)
		}
		_, _ = conn.Query(bg, "READ?")
		_ = conn.Drain(bg)
	}
	_ = conn.Close()
	_ = conn.Send(bg, "OUTP OFF")
	if hit := strayBytes(t, files); hit != "" {
		t.Fatalf("%q stands in a file of somebody else", hit)
	}
}

// TestVanishAndReturn: the descriptor is free again the moment the loss is told,
// and the same name can be opened on what came back.
func TestVanishAndReturn(t *testing.T) {
	name := filepath.Join(t.TempDir(), "adapter")
	before := 0
	for round := range 3 {
		f := plug(t, write(fmt.Sprintf("%d\n", round)))
		_ = os.Remove(name)
		if err := os.Symlink(f.device, name); err != nil {
			t.Fatal(err)
		}
		conn := openTest(t, name, quick())
		if got, err := conn.Query(bg, "READ?"); got != fmt.Sprint(round) {
			t.Fatalf("round %d: %q, %v", round, got, err)
		}
		f.unplug()
		if _, err := conn.Query(bg, "READ?"); !errors.Is(err, ErrGone) {
			t.Fatalf("round %d: got %v", round, err)
		}
		after := openFiles(t)
		if round > 0 && after > before {
			t.Fatalf("%d descriptors are open, %d a round before", after, before)
		}
		before = after
	}
}

// TestVanishWhileWaiting: the loss comes while a query waits for its answer.
func TestVanishWhileWaiting(t *testing.T) {
	l := quick()
	l.AnswerTimeout = time.Minute
	f := plug(t, nil)
	conn := openTest(t, f.device, l)
	time.AfterFunc(20*time.Millisecond, f.unplug)
	if _, err := conn.Query(bg, "READ?"); !errors.Is(err, ErrGone) {
		t.Fatalf("got %v", err)
	}
}

// TestStuckWrite fills the buffer of a far end that does not read. The write is
// abandoned and nothing is closed under it; when the far end goes away the
// abandoned goroutine closes the descriptor and ends (TestMain looks for it).
func TestStuckWrite(t *testing.T) {
	master, slave := openPTY(t)
	defer slave.Close()
	defer master.Close()
	conn := openTest(t, slave.Name(), quick())
	open := openFiles(t)
	long := strings.Repeat("X", 1000)
	var err error
	for range 200 {
		if err = conn.Send(bg, long); err != nil {
			break
		}
	}
	if !errors.Is(err, ErrStuck) || !strings.Contains(err.Error(), "restart") {
		t.Fatalf("got %v", err)
	}
	if _, err := conn.Query(bg, "READ?"); !errors.Is(err, ErrStuck) {
		t.Fatalf("got %v", err)
	}
	if err := conn.Close(); !errors.Is(err, ErrStuck) {
		t.Fatalf("Close: got %v", err)
	}
	if now := openFiles(t); now != open {
		t.Fatalf("%d descriptors are open, %d before: it was closed under the write", now, open)
	}
	_ = slave.Close()
	_ = master.Close()
	<-conn.closed
	if err := conn.Close(); err != nil {
		t.Fatalf("Close after the system came back: %v", err)
	}
}

// TestTooManyFiles: the library cannot read a descriptor of 1024 or more and
// panics. Open says so instead.
func TestTooManyFiles(t *testing.T) {
	f := plug(t, nil)
	dir := t.TempDir()
	for {
		file, err := os.Open(dir)
		if err != nil {
			t.Skipf("cannot open a thousand files here: %v", err)
		}
		defer file.Close()
		if file.Fd() > 1100 {
			break
		}
	}
	_, err := Open(bg, Address{Kind: KindSerial, Path: f.device}, quick())
	if !errors.Is(err, ErrStuck) || !strings.Contains(err.Error(), "too many files") {
		t.Fatalf("got %v", err)
	}
}
