//go:build unix

package wire

import (
	"bytes"
	"context"
	"errors"
	"syscall"
	"testing"
	"time"

	"go.bug.st/serial"
)

// cpu is the processor time of this process, user and system. The far end runs
// in another process and is not in it.
func cpu(tb testing.TB) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// measure runs one exchange b.N times and reports its CPU time.
func measure(b *testing.B, exchange func() error) {
	b.Helper()
	if err := exchange(); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	from := cpu(b)
	for b.Loop() {
		if err := exchange(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(cpu(b)-from)/float64(b.N), "cpu-ns/op")
}

// bareQuery is the least that one can write with the library: the baseline.
func bareQuery(port serial.Port) func() error {
	var buf [256]byte
	request := []byte(benchRequest + "\n")
	return func() error {
		if _, err := port.Write(request); err != nil {
			return err
		}
		for n := 0; ; {
			m, err := port.Read(buf[n:])
			if err != nil {
				return err
			}
			if m == 0 {
				return errors.New("timed out")
			}
			n += m
			if i := bytes.IndexByte(buf[:n], '\n'); i >= 0 {
				if string(buf[:i]) != benchAnswer {
					return errors.New("wrong answer")
				}
				return nil
			}
		}
	}
}

func openBare(b *testing.B, device string) serial.Port {
	port, err := serial.Open(device, &serial.Mode{BaudRate: 115200})
	if err != nil {
		b.Fatal(err)
	}
	if err := port.SetReadTimeout(time.Second); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = port.Close() })
	return port
}

// BenchmarkBareSerialQuery is the named baseline of the two benchmarks beside
// it: the same exchange on the same device with nothing around it.
func BenchmarkBareSerialQuery(b *testing.B) {
	measure(b, bareQuery(openBare(b, startFarEnd(b, 0))))
}

func BenchmarkConnQuery(b *testing.B) {
	measure(b, connQuery(openTest(b, startFarEnd(b, 0), Line{})))
}

func connQuery(c *Conn) func() error {
	ctx := context.Background()
	return func() error {
		answer, err := c.Query(ctx, benchRequest)
		if err == nil && answer != benchAnswer {
			err = errors.New("wrong answer")
		}
		return err
	}
}

// BenchmarkCostRatio runs both in turns on two equal devices, so that whatever
// else the computer does falls on both alike, and reports the ratio.
func BenchmarkCostRatio(b *testing.B) {
	const block = 50
	sides := [2]func() error{
		bareQuery(openBare(b, startFarEnd(b, 0))),
		connQuery(openTest(b, startFarEnd(b, 0), Line{})),
	}
	spent := AlternateCost(b, block, sides)
	b.ReportMetric(spent[1]/spent[0], "x-bare")
}

// AlternateCost runs two exchanges in turns, block by block, and returns the
// processor time that one of each took, in nanoseconds.
func AlternateCost(b *testing.B, block int, sides [2]func() error) (each [2]float64) {
	b.Helper()
	var spent [2]time.Duration
	for b.Loop() {
		for i, exchange := range sides {
			from := cpu(b)
			for range block {
				if err := exchange(); err != nil {
					b.Fatal(err)
				}
			}
			spent[i] += cpu(b) - from
		}
	}
	for i, name := range [...]string{"bare-cpu-ns", "ours-cpu-ns"} {
		each[i] = float64(spent[i]) / float64(b.N*block)
		b.ReportMetric(each[i], name)
	}
	return each
}

// BenchmarkPaced reports which part of the wire's own limit is reached when the
// far end is as slow as a real line. Ten bits a character, both ways.
func BenchmarkPaced(b *testing.B) {
	for _, rate := range []struct {
		name string
		baud int
	}{{"9600", 9600}, {"115200", 115200}} {
		limit := wireTime(len(benchRequest+benchAnswer+"\n\n"), rate.baud)
		b.Run("bare/"+rate.name, func(b *testing.B) {
			paced(b, limit, bareQuery(openBare(b, startFarEnd(b, rate.baud))))
		})
		b.Run("conn/"+rate.name, func(b *testing.B) {
			paced(b, limit, connQuery(openTest(b, startFarEnd(b, rate.baud), Line{})))
		})
	}
}

func paced(b *testing.B, limit time.Duration, exchange func() error) {
	b.Helper()
	measure(b, exchange)
	b.ReportMetric(100*float64(limit)*float64(b.N)/float64(b.Elapsed()), "%-of-wire")
}
