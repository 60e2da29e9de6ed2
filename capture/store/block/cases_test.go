package block

import (
	"math"
	"math/rand/v2"
	"strconv"
	"time"

	"steadyrail/capture"
)

const t0 = capture.Instant(1_700_000_000_000_000)

// sent is a row with a text, and the value that a driver makes of it.
func sent(i int, text string) Row {
	r := capture.Reading{Text: text, HalfWidth: 1500 * time.Microsecond, Ordinal: uint64(i + 1)}
	at := t0 + capture.Instant(i)*every
	r.Measured = at - 21_500
	r.Value, r.Resolution, r.Flags, _ = capture.ParseResponse(text)
	if r.Range = 20; text == "" {
		r.Flags, r.Range = capture.TimedOut, 0
	}
	return RowOf(at, 0, &r)
}

// computed is a row with a value only.
func computed(i int, v float64) Row {
	r := sent(i, "")
	r.Value, r.Flags, r.Resolution = v, 0, 1e-3
	return r
}

func example() []Row {
	var rows []Row
	for i, text := range []string{"+9.0000E+00", "+9.0010E+00", "+8.9990E+00", "", "+9.0000E+00"} {
		r := sent(i, text)
		r.At = t0 + []capture.Instant{0, 100_012, 199_995, 300_004, 399_998}[i]
		r.Measured = r.At - 21_500
		if text != "" {
			r.Resolution, r.Range = 0.001, 10
		}
		rows = append(rows, r)
	}
	return rows
}

// series makes n rows.
func series(n int, f func(i int) Row) []Row {
	rows := make([]Row, n)
	for i := range rows {
		rows[i] = f(i)
	}
	return rows
}

// sway is some movement without a random number: -20 to 20.
func sway(i int) int { return i*i%41*(i%7)%41 - 20 }

// at puts a row at another instant.
func at(r Row, t capture.Instant) Row {
	r.Measured += t - r.At
	r.At = t
	return r
}

func decimals(v float64, places int) string { return strconv.FormatFloat(v, 'f', places, 64) }

// cases are blocks that a reader in any language must be able to read.
var cases = []struct {
	name string
	rows []Row
}{
	{"the example of the format", example()},
	{"one row", series(1, func(i int) Row { return sent(i, "5.0120E+00") })},
	{"all the same", series(50, func(i int) Row { return sent(i, "12.003") })},
	{"odd texts", series(len(oddTexts)-1, func(i int) Row { return sent(i, oddTexts[i]) })},
	{"noise", bench6.rows(100)},
	{"coarse noise", bench4.rows(120)},
	{"a varying exchange", mix{step: 1e-4, text: "%.4f", scale: 20, jitter: 300, exchange: 150}.rows(60)},
	{"dithered", mix{step: 1e-3, text: "%.3f", scale: 20, dithered: true}.rows(60)},
	{"a time-out now and then", series(120, func(i int) Row {
		if i%37 == 11 {
			return sent(i, "")
		}
		return sent(i, decimals(-12+float64(sway(i))/1000, 3))
	})},
	{"autorange", series(90, func(i int) Row {
		if i%20 > 12 {
			return sent(i, "+9."+strconv.Itoa(99980+sway(i)%10)+"E+00")
		}
		return sent(i, "+1.0000"+strconv.Itoa(5+sway(i)/5)+"E+01")
	})},
	{"around zero", series(60, func(i int) Row {
		if sway(i) < 0 {
			return sent(i, "-0.000")
		}
		return sent(i, "0.00"+strconv.Itoa(sway(i)/10))
	})},
	{"zero padded", series(40, func(i int) Row { return sent(i, "0"+decimals(99.5+float64(i)/10, 1)[:3]+"."+strconv.Itoa(i%10)) })},
	{"computed", series(60, func(i int) Row { return computed(i, 21.5+float64(sway(i))/7) })},
	{"computed of single precision", series(60, func(i int) Row { return computed(i, float64(float32(3.3+float64(sway(i))/7000))) })},
	{"odd values", series(18, func(i int) Row {
		odd := []float64{0, math.Copysign(0, -1), math.Inf(1), math.Inf(-1), math.NaN(), math.Float64frombits(0x7FF0000000000001), math.Float64frombits(0xFFF8000000000123), 5e-324, -math.MaxFloat64}
		if i < len(odd) {
			return computed(i, odd[i])
		}
		r := sent(i, "-0.00")
		r.Value = odd[i-len(odd)]
		return r
	})},
	{"equal instants", series(20, func(i int) Row {
		r := at(sent(i, "5.01"), t0+capture.Instant(i/3))
		r.Tie = uint32(i % 3)
		return r
	})},
	{"backwards, gaps and the ends of time", series(40, func(i int) Row {
		r := sent(i, "5.01")
		switch i {
		case 7:
			return at(r, math.MinInt64)
		case 8:
			return at(r, math.MaxInt64)
		case 9:
			r.Measured, r.HalfWidth, r.Ordinal = math.MinInt64, math.MinInt64, math.MaxUint64
		case 12:
			r.HalfWidth = -1
		}
		if i > 20 {
			return at(r, r.At+3600*1_000_000)
		}
		return at(r, r.At-capture.Instant(sway(i)*9000))
	})},
	{"a gap in a noisy schedule", series(120, func(i int) Row {
		r := at(sent(i, "5.01"), t0+capture.Instant(i*every+sway(i)))
		if i > 70 {
			return at(r, r.At+capture.Instant(7*3600*1_000_000+12345))
		}
		return r
	})},
	{"noise with a gap and a spike", func() []Row {
		rows := bench6.rows(80)
		for i := range rows[40:] {
			rows[40+i] = at(rows[40+i], rows[40+i].At+7*24*3600*1_000_000)
		}
		rows[60].Text, rows[60].Value = "-1.000000E-03", -1e-3
		rows[70].Text, rows[70].Value = "-9.999990E+00", -9.99999
		return rows
	}()},
	{"computed from noise", func() []Row {
		rng := rand.New(rand.NewPCG(88, 1))
		return series(60, func(i int) Row { return computed(i, 3+1e-3*rng.NormFloat64()*rng.ExpFloat64()) })
	}()},
	{"huge and tiny", series(20, func(i int) Row { return sent(i, "5.0"+strconv.Itoa(i%10)+[]string{"e30", "e-30"}[i/10]) })},
	{"large", series(10, func(i int) Row { return sent(i, "5.0"+strconv.Itoa(i)+"e30") })},
	{"all timed out", series(10, func(i int) Row { return sent(i, "") })},
	{"an ordinal that leaps", series(80, func(i int) Row {
		r := sent(i, "5.01")
		if i > 30 {
			r.Ordinal += 1 << 40
		}
		return r
	})},
	{"many forms", series(260, func(i int) Row {
		r := sent(i, "5.01")
		r.Flags = capture.Flags(i)
		return r
	})},
}
