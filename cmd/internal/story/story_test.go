package story_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"steadyrail/cmd/internal/story"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// script is what was told so far; it calls a function at a word.
type script struct {
	mu   sync.Mutex
	text strings.Builder
	at   string
	then func()
}

func (s *script) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n, err := s.text.Write(b)
	if s.at != "" && strings.Contains(s.text.String(), s.at) {
		s.at = ""
		s.then()
	}
	return n, err
}

func (s *script) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// tell tells the story on a bench and a daemon of its own until a word falls,
// and returns what was told.
func tell(t *testing.T, workspace, until string) string {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	d, err := story.Open(ctx, story.Options{Workspace: workspace, Listen: "127.0.0.1:0", Seed: 88})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := d.Stop(context.WithoutCancel(ctx)); err != nil {
			t.Errorf("stop: %v", err)
		}
	}()
	if err := d.Start(ctx); err != nil {
		t.Fatal(err)
	}
	out := &script{at: until, then: cancel}
	report, err := d.Tell(ctx, out, story.Shortest, time.Now())
	if !errors.Is(err, context.Canceled) || report != "" {
		t.Errorf("broken off, it returns %q, %v", report, err)
	}
	return out.String()
}

// Ctrl-C in the middle ends the story at once and leaves nothing running; told
// again on the same workspace, it takes the next number and the open job's
// meters stay where they are until they are taken.
func TestBrokenOffAndToldAgain(t *testing.T) {
	dir := t.TempDir()
	first := tell(t, dir, "Isolate")
	if !strings.Contains(first, "Job AB-0147") || strings.Contains(first, "Live checks") {
		t.Errorf("first: %s", first)
	}
	second := tell(t, dir, "Isolate")
	if !strings.Contains(second, "Job AB-0148") || !strings.Contains(second, "Job AB-0147 is still open") || !strings.Contains(second, "short") {
		t.Errorf("second: %s", second)
	}
}
