package floor

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const module = "steadyrail"

// pkg is what we read of `go list -json`.
type pkg struct {
	ImportPath   string
	Dir          string
	Name         string
	Doc          string
	Imports      []string
	TestImports  []string
	XTestImports []string
	GoFiles      []string
}

// list asks the go command for every package of the house.
func list(t *testing.T) []pkg {
	t.Helper()
	cmd := exec.Command("go", "list", "-json", module+"/...")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var pkgs []pkg
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p pkg
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		pkgs = append(pkgs, p)
	}
	if len(pkgs) < 10 {
		t.Fatalf("go list found only %d packages: is this the whole house?", len(pkgs))
	}
	return pkgs
}

// mayImport says, for a package of ours, which other packages of ours it may
// know. A trailing /... means the folder and all below it.
var mayImport = map[string][]string{
	"capture":                 {},
	"capture/poll":            {"capture"},
	"capture/bus":             {"capture"},
	"capture/live":            {"capture"},
	"capture/store":           {"capture", "capture/store/block", "capture/store/merkle", "capture/store/timestamp"},
	"capture/store/block":     {"capture"},
	"capture/store/merkle":    {},
	"capture/store/powercut":  {"capture", "capture/store"},
	"capture/store/timestamp": {},
	"capture/job":             {"capture"},
	"capture/walk":            {"capture", "capture/elementary"},
	"capture/table":           {"capture"},
	"capture/media":           {},
	"capture/elementary":      {},
	"drivers/wire":            {"capture"},
	"drivers/session":         {"capture", "drivers/wire"},
	"drivers/scpi":            {"capture", "drivers/wire", "drivers/session"},
	"drivers/modbus":          {"capture", "drivers/wire", "drivers/session"},
	"drivers/frames":          {"capture", "drivers/wire", "drivers/session"},
	"drivers/sim":             {"capture", "drivers/wire"},
	"drivers/thermal":         {"capture"},
	"drivers/pedal":           {},
	"drivers":                 {"capture", "drivers/..."},
	"rules/trend":             {"capture", "capture/elementary"},
	"rules/uncertainty":       {"capture", "capture/elementary"},
	"rules/coverage":          {"capture", "capture/elementary"},
	"rules/isolate":           {"capture"},
	"rules/standin":           {"capture", "capture/elementary", "rules/waveform"},
	"rules/waveform":          {"capture/elementary"},
	"rules/trim":              {"capture", "capture/elementary", "rules/trend", "rules/uncertainty"},
	"rules/diagnose":          {"capture", "capture/elementary", "rules/isolate", "rules/trend"},
	"rules/discharge":         {"capture", "capture/elementary"},
	"rules/earth":             {"capture"},
	"rules/formula":           {"capture"},
	"rules/kind":              {"capture", "rules/trend", "rules/uncertainty", "rules/coverage"},
	"rules/notify":            {"capture"},
	"rules":                   {"capture", "capture/elementary", "rules/..."},
	"dashboards/chart":        {"capture"},
	"dashboards/web":          {"capture", "capture/live", "capture/walk", "dashboards/chart"},
	"dashboards/metrics":      {"capture", "capture/live"},
	"dashboards/report":       {"capture", "dashboards/chart"},
	"dashboards/export":       {"capture", "capture/table"},
	"dashboards":              {"capture", "capture/live", "capture/walk", "dashboards/..."},
	"configs":                 {"capture", "drivers", "drivers/pedal", "drivers/wire", "rules", "rules/diagnose", "rules/earth", "rules/notify", "rules/standin"},
	"cmd/internal/app":        {"capture/...", "drivers/...", "rules/...", "dashboards/...", "configs", "cmd/internal/awake", "cmd/internal/doctor"},
	"cmd/internal/awake":      {},
	"cmd/internal/paper":      {},
	"cmd/internal/doctor":     {"capture/store", "drivers", "drivers/wire", "configs"},
	"cmd/internal/story":      {"capture/...", "drivers/...", "rules/...", "dashboards/...", "configs", "cmd/internal/app", "cmd/internal/paper"},
	"cmd/internal/cli":        {"capture/...", "drivers/...", "rules/...", "dashboards/...", "configs", "cmd/internal/app", "cmd/internal/paper", "cmd/internal/awake", "cmd/internal/doctor", "cmd/internal/story"},
	"cmd/internal/floor":      {},
	"cmd/internal/comparison": {"capture/...", "drivers/...", "rules/...", "dashboards/...", "configs", "cmd/internal/app"},
	"cmd/steadyrail":          {"cmd/internal/cli"},
}

// fences keep a library behind one door.
var fences = map[string][]string{
	"go.bug.st/serial":                    {"drivers/wire"},
	"modernc.org/sqlite":                  {"capture/store"},
	"github.com/spf13/viper":              {"configs"},
	"github.com/godbus/dbus/v5":           {"cmd/internal/awake"},
	"github.com/spf13/cobra":              {"cmd/internal/cli", "cmd/steadyrail"},
	"github.com/creack/pty":               {"drivers/sim"},
	"github.com/prometheus/client_golang": {"dashboards/metrics", "cmd/internal/app"},
}

func ours(path string) (string, bool) { return strings.CutPrefix(path, module+"/") }

func allowed(rules []string, path string) bool {
	return slices.ContainsFunc(rules, func(rule string) bool {
		if dir, ok := strings.CutSuffix(rule, "/..."); ok {
			return path == dir || strings.HasPrefix(path, dir+"/")
		}
		return path == rule
	})
}

func TestImportsPointOneWay(t *testing.T) {
	for _, p := range list(t) {
		room, _ := ours(p.ImportPath)
		rules, known := mayImport[room]
		if !known {
			t.Errorf("%s is a room that the plan of the house does not know: add it to mayImport and to DEVELOPERS.md", room)
			continue
		}
		for _, imp := range p.Imports {
			if path, ok := ours(imp); ok && !allowed(rules, path) {
				t.Errorf("%s imports %s: it may know only %v", room, path, rules)
			}
		}
	}
}

func TestFences(t *testing.T) {
	for _, p := range list(t) {
		room, _ := ours(p.ImportPath)
		for _, imp := range p.Imports {
			for lib, rooms := range fences {
				if (imp == lib || strings.HasPrefix(imp, lib+"/")) && !slices.Contains(rooms, room) {
					t.Errorf("%s imports %s: only %v may", room, imp, rooms)
				}
			}
		}
	}
}

func TestEveryPackageSaysWhatItIs(t *testing.T) {
	vague := []string{"util", "utils", "common", "helper", "helpers", "misc", "shared", "base"}
	for _, p := range list(t) {
		if slices.Contains(vague, p.Name) {
			t.Errorf("%s: %q says nothing about what lives there", p.ImportPath, p.Name)
		}
		if len(p.GoFiles) > 0 && p.Doc == "" {
			t.Errorf("%s has no package comment", p.ImportPath)
		}
	}
}

// TestMapIsTrue checks that every folder and file which DEVELOPERS.md names in
// code quotes and which looks like a path exists.
func TestMapIsTrue(t *testing.T) {
	root := filepath.Join("..", "..", "..")
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile("`((?:cmd|capture|drivers|rules|dashboards|configs|testdata|\\.ci)/[A-Za-z0-9_./-]*)`").FindAllStringSubmatch(string(text), -1)
	if len(named) < 15 {
		t.Fatalf("DEVELOPERS.md names only %d paths: is it still a map?", len(named))
	}
	for _, m := range named {
		if _, err := os.Stat(filepath.Join(root, m[1])); err != nil {
			t.Errorf("DEVELOPERS.md names %s, which is not there", m[1])
		}
	}
	for _, p := range list(t) {
		if room, ok := ours(p.ImportPath); ok && len(p.GoFiles) > 0 && !strings.Contains(string(text), "`"+room+"/`") {
			t.Errorf("DEVELOPERS.md does not name the room `%s/`", room)
		}
	}
}

// TestTopOfTheTree keeps the top of the tree as agreed.
func TestTopOfTheTree(t *testing.T) {
	allowed := []string{"cmd", "drivers", "capture", "rules", "dashboards", "configs", "testdata", "README.md", "DEVELOPERS.md", "go.mod", "go.sum", "LICENSE"}
	out, err := exec.Command("git", "-C", filepath.Join("..", "..", ".."), "ls-files").Output()
	if err != nil {
		t.Skipf("not a git checkout: %v", err)
	}
	for _, f := range strings.Fields(string(out)) {
		top, _, _ := strings.Cut(f, "/")
		if !strings.HasPrefix(top, ".") && !slices.Contains(allowed, top) {
			t.Errorf("%s stands at the top of the tree, where only %v may", top, allowed)
		}
	}
}
