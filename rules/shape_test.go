package rules

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"steadyrail/capture"
)

// side sets one side of bounds; the other stays open until it is said too.
func side(b *capture.Bounds, key, text string) error {
	if *b == (capture.Bounds{}) {
		*b = capture.NoBounds()
	}
	if key == "low" {
		return scan(text, &b.Low)
	}
	return scan(text, &b.High)
}

// formula drop: dmm/volts - dmm2/volts in V
func (s *scenario) formula(text string) error {
	name, rest, named := strings.Cut(text, ": ")
	arithmetic, unit, ends := strings.Cut(rest, " in ")
	if !named || !ends {
		return fmt.Errorf("a formula is NAME: TEXT in UNIT")
	}
	s.formulas = append(s.formulas, capture.Formula{Name: name, Text: arithmetic, Unit: unit})
	return nil
}

// describe takes "aperture 180ms" and "per kelvin 0.00005" of a channel.
func describe(ch *capture.ChannelInfo, words []string) {
	if i := slices.Index(words, "aperture"); i >= 0 {
		ch.Aperture, _ = time.ParseDuration(words[i+1])
	}
	if i := slices.Index(words, "kelvin"); i >= 0 {
		a := capture.Accuracy{Range: 10, OfReading: 0.00015, Resolution: 0.0001}
		_ = scan(words[i+1], &a.PerKelvin)
		ch.Accuracy = []capture.Accuracy{a}
	}
}

// after returns the number behind a word, and whether it is there.
func after(words []string, word string) (v float64, there bool) {
	i := slices.Index(words, word)
	if i < 0 || i+1 >= len(words) {
		return 0, false
	}
	return v, scan(words[i+1], &v) == nil
}

// noisy adds the noise that a line asks for, in counts of 0.1 mV as a meter of
// 6 digits shows them.
func noisy(r *capture.Reading, words []string, k int) {
	sd, there := after(words, "noise")
	if !there {
		return
	}
	r.Resolution = 0.0001
	r.Value = math.Round((r.Value+float64(sd*normal(k)))*1e4) / 1e4
}

// normal is the k-th of a series of nearly normal numbers: the sum of twelve
// uniform ones, of a linear congruential generator.
func normal(k int) float64 {
	x, sum := uint64(k)*0x9E3779B97F4A7C15+1, 0.0
	for range 12 {
		x = x*6364136223846793005 + 1442695040888963407
		sum += float64(x>>11) / (1 << 53)
	}
	return sum - 6
}

// shaped reads "settles 4.97 to 5 tau 480 plus 0.01 tau2 1500 noise 0.0003" and
// "falls 5 to 1 every 4 for 1 [uneven]".
func (s *scenario) shaped(f []string, info capture.ChannelInfo, n int) error {
	var from, to, a, b float64
	if err := cmp.Or(scan(f[0], &from), scan(f[2], &to), scan(f[5], &a), scan(f[7], &b)); err != nil {
		return err
	}
	value := s.falling(f, a, b)
	if f[4] == "settles" {
		value = s.settling(f, a, b)
	}
	if value == nil {
		return fmt.Errorf("a figure is missing")
	}
	for k := 0; ; k++ {
		t := from + float64(k)*info.Every.Seconds()
		if t >= to-1e-9 {
			return nil
		}
		if strings.HasSuffix(strings.Join(f, " "), "uneven") {
			t += (float64(k*7%11)/10 - 0.5) * 0.8 * info.Every.Seconds()
		}
		r := capture.Reading{Channel: info.ID, Quantity: info.Quantity, Resolution: 0.001, Value: value(t - from)}
		noisy(&r, f, k)
		s.records = append(s.records, capture.Record{At: at(t) + capture.Instant(1000*n+13), Item: r})
	}
}

func (s *scenario) settling(f []string, a, b float64) func(float64) float64 {
	tau, there := after(f, "tau")
	plus, _ := after(f, "plus")
	slow, _ := after(f, "tau2")
	if !there {
		return nil
	}
	return func(t float64) float64 {
		v := b + float64((a-b)*math.Exp(-t/tau))
		if slow > 0 {
			v -= float64(plus * math.Exp(-t/slow))
		}
		return v
	}
}

func (s *scenario) falling(f []string, a, b float64) func(float64) float64 {
	every, there := after(f, "every")
	low, too := after(f, "for")
	if !there || !too {
		return nil
	}
	return func(t float64) float64 {
		if math.Mod(t, every) >= every-low {
			return b
		}
		return a
	}
}
