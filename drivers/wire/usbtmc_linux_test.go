package wire

import (
	"encoding/csv"
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"
)

// TestTMCRequests compares the request numbers with those that the kernel's
// header gives a C compiler.
func TestTMCRequests(t *testing.T) {
	file, err := os.Open("../../testdata/reference/usbtmc/ioctl.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil || len(rows) != 5 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	ours := map[string]uint64{
		"USBTMC_IOCTL_CLEAR": tmcClear, "USBTMC_IOCTL_GET_TIMEOUT": tmcGetTimeout,
		"USBTMC_IOCTL_SET_TIMEOUT": tmcSetTimeout, "USBTMC_IOCTL_MSG_IN_ATTR": tmcAttributes,
	}
	for _, row := range rows[1:] {
		want, err := strconv.ParseUint(row[1], 0, 32)
		if got, ok := ours[row[0]]; err != nil || !ok || got != want {
			t.Errorf("%s: %#x, want %s (%v)", row[0], got, row[1], err)
		}
	}
}

// TestOpenTMC: every way in which opening fails is told apart.
func TestOpenTMC(t *testing.T) {
	f := plug(t, nil)
	for _, c := range []struct {
		link string
		err  error
		says string
	}{
		{"usbtmc:/dev/usbtmc99", ErrNoPort, "steadyrail ports"},
		{"usbtmc:FFFE:FFFE:1", ErrNoPort, "nothing else of its kind"},
		{"usbtmc:" + f.device, ErrBusy, "(process " + strconv.Itoa(os.Getpid()) + ") holds it"},
		{"usbtmc:/etc/hosts", ErrNoPort, "no USB test instrument"},
	} {
		a, err := ParseAddress(c.link)
		if err != nil {
			t.Fatal(err)
		}
		before := openFiles(t)
		_, err = Open(bg, a, Line{})
		if !errors.Is(err, c.err) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v", c.link, err)
		}
		if after := openFiles(t); after != before {
			t.Errorf("%s: %d descriptors open, %d before", c.link, after, before)
		}
	}
}

// TestOpenTMCDenied: the kernel makes the file for root alone.
func TestOpenTMCDenied(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("run this test as root: it takes rights away")
	}
	file, err := os.CreateTemp("", "usbtmc") // made for its owner alone
	if err != nil {
		t.Fatal(err)
	}
	name := file.Name()
	_ = file.Close()
	defer os.Remove(name)
	asNobody(t, func() {
		_, err := Open(bg, Address{Kind: KindUSBTMC, Path: name}, Line{})
		if !errors.Is(err, ErrDenied) || !strings.Contains(err.Error(), "device rules") {
			t.Errorf("got %v", err)
		}
	})
}
