package cli

import (
	"io"
	"os"
)

// rawKeys reads single keys from a terminal, without waiting for Enter. The
// terminal is put back by the function. Where there is no terminal nothing is
// read.
func rawKeys(s streams) (keys <-chan byte, back func()) {
	f, ok := s.in.(*os.File)
	if !ok || !isTerminal(s.err) {
		return nil, func() {}
	}
	restore, err := makeRaw(f)
	if err != nil {
		return nil, func() {} // no terminal, or one that cannot: the page takes the keys
	}
	out := make(chan byte)
	go readKeys(f, out)
	return out, restore
}

// readKeys ends with its input. A walk that is over leaves it waiting for a key
// that the program's end takes away.
func readKeys(r io.Reader, out chan<- byte) {
	defer close(out)
	one := make([]byte, 1)
	for {
		if n, err := r.Read(one); err != nil {
			return
		} else if n == 1 {
			out <- one[0]
		}
	}
}
