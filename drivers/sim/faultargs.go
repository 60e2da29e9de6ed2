package sim

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// argument kinds of a fault.
type argKind uint8

const (
	argDuration argKind = iota
	argOhms
	argAmps
	argCelsius
	argInstrument
	argCount
)

type param struct {
	kind argKind
	def  string // used when left out; empty: must be there
}

var argWords = map[argKind]string{
	argDuration: "DURATION", argOhms: "OHMS", argAmps: "AMPERES", argCelsius: "CELSIUS", argInstrument: "INSTRUMENT", argCount: "COUNT",
}

// args are the arguments of a fault, read.
type args struct {
	duration   time.Duration
	value      float64
	instrument []string
	count      int
}

// read checks words against the parameters.
func (f fault) read(words []string) (args, error) {
	var a args
	if len(words) > len(f.params) {
		return a, fmt.Errorf("%w: %s takes at most %d arguments: %s", ErrFault, f.name, len(f.params), f.info().Usage)
	}
	for i, p := range f.params {
		word := p.def
		if i < len(words) {
			word = words[i]
		}
		if word == "" {
			return a, fmt.Errorf("%w: %s lacks %s: %s", ErrFault, f.name, argWords[p.kind], f.info().Usage)
		}
		if err := a.readOne(p.kind, word); err != nil {
			return a, fmt.Errorf("%w: %s: %s %v", ErrFault, f.name, argWords[p.kind], err)
		}
	}
	return a, nil
}

func (a *args) readOne(kind argKind, word string) error {
	var err error
	switch kind {
	case argDuration:
		if a.duration, err = time.ParseDuration(word); err != nil || a.duration < 0 {
			err = fmt.Errorf("%q is no time such as 1.8s, 10m or 2h", word)
		}
	case argInstrument:
		if !known(word, Instruments()) {
			return fmt.Errorf("%q is none of %s", word, strings.Join(Instruments(), ", "))
		}
		a.instrument = append(a.instrument, word)
	case argCount:
		a.count, err = strconv.Atoi(word)
		if err != nil || a.count < 1 || a.count > 1_000_000 {
			err = fmt.Errorf("%q is not between 1 and 1000000", word)
		}
	default:
		a.value, err = readFaultNumber(kind, word)
	}
	return err
}

func readFaultNumber(kind argKind, word string) (float64, error) {
	unit := map[argKind]string{argOhms: "ohm", argAmps: "A", argCelsius: "C"}[kind]
	lo, hi := 1e-3, 1e9
	switch kind {
	case argAmps:
		lo, hi = -100, 100
	case argCelsius:
		lo, hi = -40, 85
	}
	v, err := strconv.ParseFloat(strings.TrimSuffix(word, unit), 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a number", word)
	}
	if !(v >= lo && v <= hi) {
		return 0, fmt.Errorf("%q is not between %g and %g", word, lo, hi)
	}
	return v, nil
}
