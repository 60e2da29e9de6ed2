package block

import (
	"runtime"
	"runtime/debug"
	"syscall"
	"testing"
)

func cpu() float64 {
	var u syscall.Rusage
	syscall.Getrusage(1, &u)
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

func TestZZ(t *testing.T) {
	debug.SetGCPercent(400)
	runtime.LockOSThread()
	for _, m := range mixes() {
		rows := m.rows(60000)
		parts, coded := blocks(rows)
		rate := func(f func(i int) int) float64 {
			best := 0.0
			for range 8 {
				a, n := cpu(), 0
				for r := 0; r < 60; r++ {
					n += f(r % (len(parts) - 1))
				}
				best = max(best, float64(n)/(cpu()-a)/1e6)
			}
			return best
		}
		var e Encoder
		var d Decoder
		var buf []byte
		var got []Row
		var pts []Point
		enc := rate(func(i int) int { buf = e.Append(buf[:0], parts[i]); return len(parts[i]) })
		rws := rate(func(i int) int { got, _ = d.Rows(got[:0], coded[i]); return len(got) })
		pt := rate(func(i int) int { pts, _ = d.Points(pts[:0], coded[i]); return len(pts) })
		t.Logf("%-22s enc %.1f rows %.1f points %.1f M/cpu-s", m.name, enc, rws, pt)
	}
}
