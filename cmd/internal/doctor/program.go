package doctor

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"regexp"
	"runtime"
	"strings"
)

var buildInfo = regexp.MustCompile(`steadyrail_build_info\{[^}]*version="([^"]*)"`)

// versions says which program looks, and whether the daemon is the same.
func (b Bench) versions(ctx context.Context) []Finding {
	found := fmt.Sprintf("%s, judging by rules %s, %s %s/%s", b.Version, b.Rules, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	if b.Daemon == nil || b.inDaemon() {
		return one("version", Fine, found, "")
	}
	_, text, err := b.Daemon.Get(ctx, "/metrics")
	m := buildInfo.FindStringSubmatch(text)
	switch {
	case err != nil || m == nil:
		return one("version", Note, found+"; the daemon does not say its own", "")
	case m[1] != b.Version:
		return one("version", Attend, found+"; the daemon is "+m[1], "start the daemon anew when no soak runs")
	}
	return one("version", Fine, found+"; the daemon is the same", "")
}

// configuration tells whether the file is right.
func (b Bench) configuration(context.Context) []Finding {
	switch {
	case b.File == "" && b.Config != nil:
		return one("configuration", Fine, fmt.Sprintf("made by the program, there is no file: bench %s, %d instruments", b.Config.Bench, len(b.Config.Instruments)), "")
	case b.File == "":
		return one("configuration", Note, "none was named: instruments, notifiers and calibration were not looked at", "steadyrail doctor --config FILE")
	case len(b.Problems) == 0:
		return one("configuration", Fine, fmt.Sprintf("%s is right: bench %s, %d instruments", b.File, b.Config.Bench, len(b.Config.Instruments)), "")
	}
	var out []Finding
	for _, p := range b.Problems {
		do := p.Hint
		if do == "" {
			do = "mend it; a daemon that runs keeps what it has"
		}
		p.Hint = ""
		out = append(out, Finding{"configuration", p.String(), do, Wrong})
	}
	return out
}

// daemon tells whether one runs, and whether it is well by its own word.
func (b Bench) daemon(ctx context.Context) []Finding {
	if b.Daemon == nil {
		return one("daemon", Note, "none runs on "+b.Workspace, "steadyrail run --config FILE")
	}
	pid, address := b.Daemon.Holder()
	who := fmt.Sprintf("process %d at %s", pid, address)
	status, text, err := b.Daemon.Get(ctx, "/readyz")
	switch {
	case err != nil:
		return one("daemon", Fails, who+" does not answer: "+err.Error(), "look at its log; start it anew")
	case status != http.StatusOK:
		return one("daemon", Attend, who+" is not ready: "+detail(text), "see the bench's page")
	}
	return one("daemon", Fine, who+" is ready", "")
}

var detailOf = regexp.MustCompile(`"detail"\s*:\s*"((?:[^"\\]|\\.)*)"`)

// detail is the sentence of a problem document (RFC 9457).
func detail(text string) string {
	if m := detailOf.FindStringSubmatch(text); m != nil {
		return strings.ReplaceAll(m[1], `\"`, `"`)
	}
	return strings.TrimSpace(text)
}

// inDaemon reports whether the program that looks is the daemon.
func (b Bench) inDaemon() bool {
	pid, _ := b.Daemon.Holder()
	return pid == os.Getpid()
}
