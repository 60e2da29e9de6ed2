package sim

import (
	"bytes"
	"encoding/csv"
	"encoding/hex"
	"os"
	"strings"
	"testing"
	"time"
)

func fromHex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestCheckSums: the far end's own, against all 20 published frames (set 06 of
// the reference values).
func TestCheckSums(t *testing.T) {
	text, err := os.ReadFile("../../testdata/reference/modbus/rtu_frames.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil || len(rows) != 21 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		low, high := checkSum(fromHex(t, row[0]))
		if want := fromHex(t, row[1]); low != want[0] || high != want[1] {
			t.Errorf("%s: %02X %02X, published %s", row[0], low, high, row[1])
		}
	}
}

func TestCuttingRequests(t *testing.T) {
	published := fromHex(t, "11 03 00 6B 00 03 76 87")
	many := fromHex(t, "11 10 00 01 00 02 04 00 0A 01 02 C6 F0")
	for _, c := range []struct {
		name string
		in   []byte
		unit byte
		used int
		ok   bool
	}{
		{"nothing", nil, 0, 0, false},
		{"half", published[:5], 0, 0, false},
		{"whole", published, 17, 8, true},
		{"function 16", many, 17, 13, true},
		{"behind noise", append([]byte{0, 0xFF, 0x13}, published...), 17, 11, true},
	} {
		q, used, ok := cutRTU(c.in)
		if q.unit != c.unit || used != c.used || ok != c.ok {
			t.Errorf("%s: %+v, %d, %v", c.name, q, used, ok)
		}
	}
	q, used, ok := cutMBAP(fromHex(t, "00 01 00 00 00 06 01 03 00 03 00 02"))
	if !ok || used != 12 || q.transaction != 1 || q.unit != 1 || !bytes.Equal(q.body, fromHex(t, "03 00 03 00 02")) {
		t.Errorf("%+v, %d, %v", q, used, ok)
	}
}

// TestRegisterSupply: what a unit says and refuses, by data units.
func TestRegisterSupply(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	u := &registerSupply{bench: r.Bench, noise: stream(1, "test")}
	for _, c := range []struct{ ask, want string }{
		{"03 00 00 00 04", "03 08 53 49 4D 2D 4D 50 53 55"},
		{"03 00 20 00 01", "03 02 00 00"},
		{"06 00 21 5D C0", "06 00 21 5D C0"},                // 24.000 V
		{"10 00 22 00 02 04 01 F4 0A 28", "10 00 22 00 02"}, // 0.5 A, 26 V
		{"03 00 21 00 03", "03 06 5D C0 01 F4 0A 28"},       //
		{"06 00 21 7D 01", "86 03"},                         // 32.001 V
		{"10 00 20 00 02 04 00 01 7D 01", "90 03"},          // all or nothing
		{"03 00 20 00 01", "03 02 00 00"},                   //
		{"05 00 00 FF 00", "05 00 00 FF 00"},                //
		{"01 00 00 00 01", "01 01 01"},                      //
		{"03 00 12 00 01", "03 02 00 01"},                   //
		{"05 00 00 12 34", "85 03"},                         //
		{"05 00 01 FF 00", "85 02"},                         //
		{"06 00 10 00 01", "86 02"},                         // a read-back
		{"03 00 20 00 00", "83 03"},                         //
		{"03 03 E7 00 01", "83 02"},                         //
		{"04 00 00 00 01", "84 02"},                         //
		{"2B 0E 01 00 00", "AB 01"},                         //
		{"03 00", "83 03"},                                  //
		{"06 00 20 00 00", "06 00 20 00 00"},                //
		{"01 00 00 00 01", "01 01 00"},                      //
	} {
		if got := replyTo(u, fromHex(t, c.ask)); !bytes.Equal(got, fromHex(t, c.want)) {
			t.Errorf("%s: % X, want %s", c.ask, got, c.want)
		}
	}
}

// TestRegisterMeter against what the model really is.
func TestRegisterMeter(t *testing.T) {
	r := newRig(t, 1, Scenario{})
	u := newRegisterMeter(r.Bench, 1, nSupply, "00310005")
	s := &r.Bench.world.supply
	s.vset, s.iset, s.on = 24, 1, true
	r.pass(2 * time.Second)
	truth, err := r.Truth("supply volts")
	if err != nil {
		t.Fatal(err)
	}
	got := replyTo(u, fromHex(t, "04 00 00 00 02"))
	v := float64(int32(uint32(got[2])<<24|uint32(got[3])<<16|uint32(got[4])<<8|uint32(got[5]))) * panelStep
	near(t, "the panel meter", v, truth, 0.02)
	if got := replyTo(u, fromHex(t, "04 00 02 00 02")); got[0] != 0x84 {
		t.Errorf("a hole was read: % X", got)
	}
}

func FuzzPairRequest(f *testing.F) {
	f.Add(fromHex(f, "01 03 00 10 00 03 04 0E"), false)
	f.Add(fromHex(f, "00 01 00 00 00 06 01 03 00 10 00 03"), true)
	r := newRig(f, 1, Scenario{})
	u := &registerSupply{bench: r.Bench, noise: stream(1, "test")}
	f.Fuzz(func(t *testing.T, in []byte, tcp bool) {
		cut := cutRTU
		if tcp {
			cut = cutMBAP
		}
		for len(in) > 0 {
			q, used, ok := cut(in)
			if used < 0 || used > len(in) || ok && used == 0 {
				t.Fatalf("%d of %d bytes", used, len(in))
			}
			if in = in[used:]; !ok {
				return
			}
			if got := replyTo(u, q.body); len(got) < 2 || len(got) > 253 {
				t.Fatalf("% X is answered with %d bytes", q.body, len(got))
			}
		}
	})
}
