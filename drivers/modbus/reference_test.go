package modbus

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"steadyrail/drivers/wire"
)

const reference = "../../testdata/reference/modbus/"

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// publishedFrames are the frames of set 06, without their check sums.
func publishedFrames(t testing.TB) (frames, sums [][]byte) {
	t.Helper()
	text, err := os.ReadFile(reference + "rtu_frames.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		frames, sums = append(frames, unhex(t, row[0])), append(sums, unhex(t, row[1]))
	}
	return frames, sums
}

// TestPublishedFrames: the check sums of all 20 frames (Serial Line V1.02 and
// Application Protocol V1.1b3).
func TestPublishedFrames(t *testing.T) {
	frames, sums := publishedFrames(t)
	if len(frames) != 20 {
		t.Fatalf("%d frames", len(frames))
	}
	for i, f := range frames {
		got := binary.LittleEndian.AppendUint16(nil, crc16(f))
		if !bytes.Equal(got, sums[i]) {
			t.Errorf("% x: check sum % x, published % x", f, got, sums[i])
		}
		if len(f) >= 2 && !bytes.Equal(wrapRTU(f[0], f[1:]), append(bytes.Clone(f), sums[i]...)) {
			t.Errorf("% x: not framed as published", f)
		}
		whole := append(bytes.Clone(f), sums[i]...)
		if !sound(whole) {
			t.Errorf("% x is not taken for sound", whole)
		}
		for bit := range 8 * len(whole) {
			whole[bit/8] ^= 1 << (bit % 8)
			if sound(whole) {
				t.Errorf("% x: a wrong bit was not noticed", whole)
			}
			whole[bit/8] ^= 1 << (bit % 8)
		}
	}
	if got := crc16([]byte("123456789")); got != 0x4B37 { // the usual check value of this polynomial
		t.Errorf("check value %#x", got)
	}
}

// TestPublishedRequests: what we send is what is published, and the published
// answers are taken for theirs.
func TestPublishedRequests(t *testing.T) {
	for _, c := range []struct {
		unit            byte
		request         request
		frame           string // with check sum
		answer, content string
	}{
		{1, read(Holding, 0, 10), "01 03 00 00 00 0A C5 CD", "", ""},
		{17, read(Holding, 107, 3), "11 03 00 6B 00 03 76 87", "11 03 06 AE 41 56 52 43 40 49 AD", "AE 41 56 52 43 40"},
		{17, read(Coil, 19, 37), "11 01 00 13 00 25 0E 84", "11 01 05 CD 6B B2 0E 1B 45 E6", "CD 6B B2 0E 1B"},
		{17, read(Input, 8, 1), "11 04 00 08 00 01 B2 98", "11 04 02 00 0A F8 F4", "00 0A"},
		{17, switchCoil(172, true), "11 05 00 AC FF 00 4E 8B", "11 05 00 AC FF 00 4E 8B", ""},
		{17, write(1, []byte{0, 3}, false), "11 06 00 01 00 03 9A 9B", "11 06 00 01 00 03 9A 9B", ""},
		{1, write(1, []byte{0, 3}, false), "01 06 00 01 00 03 98 0B", "01 06 00 01 00 03 98 0B", ""},
		{17, write(1, []byte{0, 10, 1, 2}, false), "11 10 00 01 00 02 04 00 0A 01 02 C6 F0", "", ""},
		{1, read(Holding, 0, 2), "01 03 00 00 00 02 C4 0B", "", ""},
		{2, read(Holding, 0, 10), "02 03 00 00 00 0A C5 FE", "", ""},
		{3, read(Holding, 0, 10), "03 03 00 00 00 0A C4 2F", "", ""},
		{17, read(Holding, 0, 3), "", "11 03 06 00 00 00 00 00 00 EC B5", "00 00 00 00 00 00"},
	} {
		e := envelope{unit: c.unit, request: c.request}
		if c.frame != "" && !bytes.Equal(e.frame(), unhex(t, c.frame)) {
			t.Errorf("%s: sent % x, published %s", c.request.what, e.frame(), c.frame)
		}
		if c.answer == "" {
			continue
		}
		answer := unhex(t, c.answer)
		if skip, n := e.split()(answer); skip != 0 || n != len(answer) {
			t.Errorf("%s: %s is split at %d, %d", c.request.what, c.answer, skip, n)
		}
		if data, err := e.open(answer); err != nil || !bytes.Equal(data, unhex(t, c.content)) {
			t.Errorf("%s: %s holds % x, %v", c.request.what, c.answer, data, err)
		}
	}
}

// TestPublishedExceptions: the two published exception frames, and the words of
// every published code.
func TestPublishedExceptions(t *testing.T) {
	for _, c := range []struct {
		unit    byte
		request request
		frame   string
	}{{10, read(Coil, 1185, 1), "0A 81 02 B0 53"}, {1, read(Holding, 0, 1), "01 83 02 C0 F1"}} {
		e := envelope{unit: c.unit, request: c.request}
		frame := unhex(t, c.frame)
		if _, n := e.split()(frame); n != len(frame) {
			t.Errorf("%s is not found", c.frame)
		}
		if _, err := e.open(frame); !errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), "illegal data address") {
			t.Errorf("%s: %v", c.frame, err)
		}
	}
	var published struct {
		Codes  map[string]string `json:"exception_codes"`
		Timing struct {
			Silence map[string]float64 `json:"t3_5_ms"`
		} `json:"timing"`
		MBAP struct {
			Request   string `json:"example_request"`
			Exception string `json:"example_exception"`
		} `json:"tcp_mbap"`
	}
	text, err := os.ReadFile(reference + "modbus.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &published); err != nil {
		t.Fatal(err)
	}
	delete(published.Codes, "status")
	for code, words := range published.Codes {
		n, _ := strconv.Atoi(code)
		err := exception(byte(n))
		if !strings.Contains(err.Error(), words) {
			t.Errorf("code %s: %v, published %q", code, err, words)
		}
		if want := ErrRefused; n == 11 {
			want = wire.ErrTimeout
			if !errors.Is(err, want) {
				t.Errorf("code 11: %v", err)
			}
		} else if !errors.Is(err, want) {
			t.Errorf("code %d: %v", n, err)
		}
	}
	if len(published.Codes) != len(exceptions) {
		t.Errorf("%d codes are published, %d are known", len(published.Codes), len(exceptions))
	}
	for baud, ms := range published.Timing.Silence {
		n, _ := strconv.Atoi(baud)
		want := time.Duration(ms * float64(time.Millisecond))
		if got := Silence(n); (got - want).Abs() > time.Microsecond {
			t.Errorf("silence at %s: %v, published %v", baud, got, want)
		}
	}
	e := envelope{framing: TCP, unit: 1, transaction: 1, request: read(Holding, 3, 2)}
	if got := e.frame(); !bytes.Equal(got, unhex(t, published.MBAP.Request)) {
		t.Errorf("on tcp: % x", got)
	}
	e = envelope{framing: TCP, unit: 1, request: read(Input, 0, 1)}
	if _, err := e.open(unhex(t, published.MBAP.Exception)); !errors.Is(err, ErrRefused) {
		t.Errorf("on tcp: %v", err)
	}
}
