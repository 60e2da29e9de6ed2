package powercut

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
)

// childEnv makes this test's program the program under test.
const childEnv = "STEADYRAIL_POWERCUT_CHILD"

func TestMain(m *testing.M) {
	if os.Getenv(childEnv) != "" {
		if err := obey(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	goleak.VerifyTestMain(m)
}

// order is a line to the child: begin something.
type order struct {
	Do   string `json:"do"` // "ingest" or "sweep"
	Dir  string `json:"dir"`
	Load load   `json:"load"`
}

// word is a line from the child. It waits for an empty line before it goes on.
type word struct {
	Reached int    `json:"reached"`         // steps known to be durable
	Met     string `json:"met,omitempty"`   // an error that it met and goes on from
	Done    bool   `json:"done,omitempty"`  // the order has been obeyed
	Fatal   string `json:"fatal,omitempty"` // it cannot go on
	Lost    bool   `json:"lost,omitempty"`  // Close said that the newest steps are lost
}

// obey is the child: it follows orders until there are no more.
func obey() error {
	in := bufio.NewReader(os.Stdin)
	say := func(w word) error {
		if err := json.NewEncoder(os.Stdout).Encode(w); err != nil {
			return err
		}
		_, err := in.ReadString('\n')
		return err
	}
	for {
		line, err := in.ReadString('\n')
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		var o order
		if err := json.Unmarshal([]byte(line), &o); err != nil {
			return err
		}
		end := word{Done: true}
		switch o.Do {
		case "ingest":
			err = ingest(o.Dir, o.Load, func(n int) error { return say(word{Reached: n}) })
		case "sweep":
			end, err = sweep(o.Dir, o.Load, say)
		}
		end.Done = true
		if err != nil {
			end.Fatal = err.Error()
		}
		if err := say(end); err != nil {
			return err
		}
	}
}

// program is the child as its parent sees it.
type program struct {
	t    *testing.T
	cmd  *exec.Cmd
	in   io.WriteCloser
	out  *bufio.Reader
	errs *strings.Builder
}

func startProgram(t *testing.T) *program {
	t.Helper()
	p := &program{t: t, cmd: exec.Command(os.Args[0]), errs: &strings.Builder{}}
	p.cmd.Env = append(os.Environ(), childEnv+"=1")
	p.cmd.Stderr = p.errs
	out, err := p.cmd.StdoutPipe()
	if err == nil {
		p.out = bufio.NewReader(out)
		p.in, err = p.cmd.StdinPipe()
	}
	if err == nil {
		err = p.cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		p.in.Close()
		_ = p.cmd.Wait()
	})
	return p
}

// hang is how long a program may say nothing before it is taken to hang.
const hang = 2 * time.Minute

// run gives an order and hears what the program says until it has obeyed. An
// error means that the program died or hung: what it said last is in it.
func (p *program) run(o order, heard func(word)) (word, error) {
	if err := json.NewEncoder(p.in).Encode(o); err != nil {
		return word{}, p.died(err)
	}
	for {
		watch := time.AfterFunc(hang, func() { _ = p.cmd.Process.Kill() })
		line, err := p.out.ReadString('\n')
		watch.Stop()
		if err != nil {
			return word{}, p.died(err)
		}
		var w word
		if err := json.Unmarshal([]byte(line), &w); err != nil {
			return word{}, p.died(fmt.Errorf("%w: %q", err, line))
		}
		if !w.Done {
			heard(w)
		}
		if _, err := p.in.Write([]byte("\n")); err != nil || w.Done {
			return w, err
		}
	}
}

func (p *program) died(err error) error {
	_ = p.cmd.Process.Kill()
	state := p.cmd.Wait()
	return fmt.Errorf("the program ended or hung (%w, %w): %s", err, state, p.errs)
}
