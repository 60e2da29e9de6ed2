package wire

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// lanReference is testdata/reference/lan/headers.json: IVI-6.1 revision 1.1 and
// VXI-11 revision 1.0.
type lanReference struct {
	HiSLIP struct {
		Port        int
		Types       map[string]string `json:"message_types"`
		FatalErrors map[string]string `json:"fatal_errors"`
		Errors      map[string]string
		Examples    []struct{ What, Hex string } `json:"examples_computed"`
	}
	VXI11 struct {
		Programs   map[string]struct{ Number, Version int }
		Procedures map[string]int
		Errors     map[string]string
		Flags      map[string]int
		Reasons    map[string]int `json:"read_reason_bits"`
	}
}

func readLANReference(t *testing.T) (r lanReference) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/reference/lan/headers.json")
	if err == nil {
		err = json.Unmarshal(raw, &r)
	}
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func asPublished[T comparable](t *testing.T, what string, got, want T) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %v, the standard has %v", what, got, want)
	}
}

func TestHiSLIPHeadersAsPublished(t *testing.T) {
	r := readLANReference(t).HiSLIP
	asPublished(t, "port", hislipPort, strconv.Itoa(r.Port))
	for kind, name := range map[int]string{
		hislipInitialize: "Initialize", hislipInitializeResponse: "InitializeResponse", hislipFatalError: "FatalError",
		hislipError: "Error", hislipData: "Data", hislipDataEnd: "DataEnd", hislipDeviceClearComplete: "DeviceClearComplete",
		hislipDeviceClearAcknowledge: "DeviceClearAcknowledge", hislipInterrupted: "Interrupted",
		hislipMaximumMessageSize: "AsyncMaximumMessageSize", hislipMaximumMessageSizeReply: "AsyncMaximumMessageSizeResponse",
		hislipAsyncInitialize: "AsyncInitialize", hislipAsyncInitializeResponse: "AsyncInitializeResponse",
		hislipAsyncDeviceClear: "AsyncDeviceClear", hislipAsyncDeviceClearAck: "AsyncDeviceClearAcknowledge",
		hislipAsyncLockInfo: "AsyncLockInfo", hislipAsyncLockInfoResponse: "AsyncLockInfoResponse",
	} {
		asPublished(t, "message type "+strconv.Itoa(kind), name, r.Types[strconv.Itoa(kind)])
	}
	for code, words := range r.FatalErrors {
		i, _ := strconv.Atoi(code)
		asPublished(t, "fatal error "+code, hislipFatalErrors[i], words)
	}
	for code, words := range r.Errors {
		i, _ := strconv.Atoi(code)
		asPublished(t, "error "+code, hislipErrors[i], words)
	}
	ours := map[string][]byte{
		"DataEnd *IDN? newline, message id 0xFFFFFF00":            appendHiSLIP(nil, hislipDataEnd, 0, hislipFirst, []byte("*IDN?\n")),
		"Initialize, version 1.0, vendor XX, sub-address hislip0": appendHiSLIP(nil, hislipInitialize, 0, hislipClient, []byte("hislip0")),
	}
	asPublished(t, "number of examples", len(ours), len(r.Examples))
	for _, e := range r.Examples {
		want, err := hex.DecodeString(strings.ReplaceAll(e.Hex, " ", ""))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(ours[e.What], want) {
			t.Errorf("%s:\n% x, the standard has\n% x", e.What, ours[e.What], want)
		}
	}
}

func TestVXI11NumbersAsPublished(t *testing.T) {
	r := readLANReference(t).VXI11
	asPublished(t, "program", vxi11Core, r.Programs["core"].Number)
	asPublished(t, "version", vxi11Version, r.Programs["core"].Version)
	for name, number := range map[string]int{
		"create_link": vxi11CreateLink, "device_write": vxi11Write, "device_read": vxi11Read,
		"device_clear": vxi11Clear, "destroy_link": vxi11DestroyLink,
	} {
		asPublished(t, name, number, r.Procedures[name])
	}
	asPublished(t, "end flag", vxi11FlagEnd, r.Flags["end"])
	asPublished(t, "end reason", vxi11ReasonEnd, r.Reasons["end"])
	for code, words := range r.Errors {
		n, _ := strconv.Atoi(code)
		if got := vxi11Error("x", uint32(n)); n != 0 && !strings.Contains(got.Error(), words) || n == 0 && got != nil {
			t.Errorf("error %s is said as %v, the standard has %q", code, got, words)
		}
	}
	asPublished(t, "number of errors", len(vxi11Errors)+1, len(r.Errors))
}

// TestRPCAsPublished spells a call out by RFC 5531 (sections 9 and 11) and
// RFC 4506 (section 4): written by hand from them, not by a program.
func TestRPCAsPublished(t *testing.T) {
	args := appendOpaque(appendUints(nil, 0x01020304, 0, 0), []byte("inst0"))
	want := "80000040" + // last fragment, 64 bytes
		"0000002a" + "00000000" + "00000002" + // xid 42, call, RPC version 2
		"000607af" + "00000001" + "0000000a" + // program, version, create_link
		"00000000" + "00000000" + "00000000" + "00000000" + // AUTH_NONE twice, empty
		"01020304" + "00000000" + "00000000" + // client, no lock, no time for it
		"00000005" + "696e7374" + "30000000" // a string of five bytes, padded
	if got := hex.EncodeToString(appendCall(nil, 42, vxi11Core, vxi11Version, vxi11CreateLink, args)); got != want {
		t.Errorf("got\n%s, want\n%s", got, want)
	}
}

func TestLANAddresses(t *testing.T) {
	for in, want := range map[string]string{
		"hislip:10.0.0.7":                    "hislip:10.0.0.7:4880/hislip0",
		"hislip:10.0.0.7:4881":               "hislip:10.0.0.7:4881/hislip0",
		"hislip:meter.lan/hislip1?answer=2s": "hislip:meter.lan:4880/hislip1",
		"hislip:[::1]":                       "hislip:[::1]:4880/hislip0",
		"hislip:[fe80::1%eth0]:4880/x":       "hislip:[fe80::1%eth0]:4880/x",
		"vxi11:10.0.0.7":                     "vxi11:10.0.0.7/inst0",
		"vxi11:gateway/gpib0,22":             "vxi11:gateway/gpib0,22",
		"vxi11:gateway:1024/gpib0,22":        "vxi11:gateway:1024/gpib0,22",
		"vxi11:[::1]/inst1":                  "vxi11:[::1]/inst1",
		"vxi11:[::1]:618":                    "vxi11:[::1]:618/inst0",
	} {
		a, err := ParseAddress(in)
		if err != nil || a.Place() != want {
			t.Errorf("%s: %q, %v, want %s", in, a.Place(), err, want)
			continue
		}
		if b, err := ParseAddress(a.Place()); err != nil || b.Place() != want {
			t.Errorf("%s does not mean itself: %q, %v", want, b.Place(), err)
		}
	}
	one, _ := ParseAddress("vxi11:gateway/gpib0,22")
	two, _ := ParseAddress("vxi11:gateway/gpib0,23")
	if one.Place() == two.Place() || whereabouts(one) == whereabouts(two) {
		t.Error("two instruments behind one gateway have one place")
	}
	for _, bad := range []string{
		"hislip:", "hislip:/hislip0", "hislip:::1", "hislip:fe80::1/x", "hislip:[::1", "hislip:[::1]x", "hislip:[::1]:", "hislip:[nonsense]",
		"hislip:a:", "hislip:a:0", "hislip:a:70000", "hislip:a:b", "hislip:a/", "hislip:a/b/c", "hislip:a/b c", "hislip:a/" + strings.Repeat("x", 200),
		"hislip:a?baud=9600", "vxi11:a:1:2", "vxi11:a/\x00", "vxi11:a b",
	} {
		if a, err := ParseAddress(bad); err == nil {
			t.Errorf("%q was taken for %s", bad, a)
		}
	}
}

// hislipSeeds are streams that a decoder gets wrong easily.
func hislipSeeds() [][]byte {
	whole := appendHiSLIP(nil, hislipDataEnd, 0, hislipFirst, []byte("1.5\n"))
	huge := slices.Clone(whole)
	copy(huge[8:], "\xff\xff\xff\xff\xff\xff\xff\xff")
	return [][]byte{whole, whole[:7], huge, []byte("HTTP/1.0 400"), append(slices.Clone(whole), whole...), appendHiSLIP(nil, hislipFatalError, 4, 0, nil)}
}

// FuzzHiSLIPDecoder: whatever the pieces, the same messages come out, no byte is
// lost, and what is encoded is decoded.
func FuzzHiSLIPDecoder(f *testing.F) {
	for _, s := range hislipSeeds() {
		f.Add(s, 3)
	}
	f.Fuzz(func(t *testing.T, stream []byte, size int) {
		whole, used, err := decodeHiSLIP(stream, len(stream)+1)
		pieces, usedPieces, errPieces := decodeHiSLIP(stream, 1+abs(size)%40)
		if !slices.Equal(whole, pieces) || (err == nil) != (errPieces == nil) || err == nil && used != usedPieces {
			t.Fatalf("in one piece %q %v, in several %q %v", whole, err, pieces, errPieces)
		}
		if err == nil && used != len(stream) {
			t.Fatalf("%d of %d bytes were used", used, len(stream))
		}
		if again := strings.Join(whole, ""); !strings.HasPrefix(string(stream), again) {
			t.Fatalf("%q became %q", stream, again)
		}
	})
}

func abs(n int) int {
	if n < 0 {
		return -(n + 1)
	}
	return n
}

// decodeHiSLIP returns the whole messages of a stream, encoded again.
func decodeHiSLIP(stream []byte, size int) (messages []string, used int, err error) {
	var d hislipDecoder
	var text []byte
	for len(stream) > 0 {
		n, payload, done, err := d.next(stream[:min(size, len(stream))])
		if err != nil {
			return messages, used, err
		}
		stream, used, text = stream[n:], used+n, append(text, payload...)
		if done {
			h := d.head
			messages = append(messages, string(appendHiSLIP(nil, h.kind, h.control, h.parameter, text)))
			text = text[:0]
		}
	}
	return messages, used, nil
}

// FuzzRPCReply: the same for records, and no reply makes the parser read what
// is not there.
func FuzzRPCReply(f *testing.F) {
	good := replyRecord(42, 0, appendOpaque(appendUints(nil, 0, 4), []byte("1.5\n")))
	f.Add(good, 5)
	f.Add(append([]byte{0, 0, 0, 2, 1, 2}, good...), 1)
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 1}, 2)
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0, 0, 0x80, 0, 0, 0}, 4)
	f.Fuzz(func(t *testing.T, stream []byte, size int) {
		whole, err := decodeRecords(stream, len(stream)+1)
		pieces, errPieces := decodeRecords(stream, 1+abs(size)%40)
		if !slices.Equal(whole, pieces) || (err == nil) != (errPieces == nil) {
			t.Fatalf("in one piece %q %v, in several %q %v", whole, err, pieces, errPieces)
		}
		for _, r := range whole {
			_, results, err := parseReply([]byte(r))
			if err == nil && len(results.rest)+6*4 > len(r) {
				t.Fatalf("%q has results of %d bytes", r, len(results.rest))
			}
			results.uint()
			if data := results.opaque(); len(data) > len(r) {
				t.Fatalf("%q has data of %d bytes", r, len(data))
			}
		}
	})
}

func decodeRecords(stream []byte, size int) (records []string, err error) {
	r := rpcRecords{limit: 1000}
	for len(stream) > 0 {
		n, record, err := r.next(stream[:min(size, len(stream))])
		if err != nil {
			return records, err
		}
		stream = stream[n:]
		if record != nil {
			records = append(records, string(record))
		}
	}
	return records, nil
}

// replyRecord is an accepted reply by RFC 5531, section 9.
func replyRecord(xid, status uint32, results []byte) []byte {
	body := append(appendUints(nil, xid, 1, 0, 0, 0, status), results...)
	return append(appendUints(nil, 1<<31|uint32(len(body))), body...)
}
