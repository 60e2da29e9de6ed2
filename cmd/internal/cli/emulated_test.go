package cli_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
)

// sameElsewhere judges a stored job again with the program built for another
// processor, under emulation, and compares what it says to the byte. On arm64 a
// multiplication and an addition may become one instruction with one rounding,
// unless the program forbids it: a threshold could flip.
func sameElsewhere(t *testing.T, dir, job, here string) {
	t.Helper()
	emulator, err := exec.LookPath("qemu-aarch64-static")
	if err != nil || runtime.GOOS != "linux" || runtime.GOARCH != "amd64" {
		if os.Getenv("STEADYRAIL_REQUIRE_ALL") == "1" {
			t.Fatal("qemu-aarch64-static is missing: install the package qemu-user-static")
		}
		t.Log("SKIPPED: the replay on another processor needs linux/amd64 and the package qemu-user-static")
		return
	}
	other := filepath.Join(t.TempDir(), "steadyrail-arm64")
	build := exec.Command("go", "build", "-o", other, "steadyrail/cmd/steadyrail")
	build.Env = append(os.Environ(), "GOARCH=arm64", "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build for arm64: %v\n%s", err, out)
	}
	run := exec.Command(emulator, other, "replay", job, "--json", "--workspace", "record")
	run.Dir = dir
	there, err := run.Output() // it ends with 1 when the alarms are not those on record
	if err != nil || string(there) != here {
		t.Errorf("judged on arm64 the job gives something else: %v\n%s\nhere\n%s", err, there, here)
	}
}
