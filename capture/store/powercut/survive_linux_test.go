//go:build amd64 || arm64

package powercut

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"path"
	"slices"
)

// sector is the least that a disk writes whole.
const sector = 512

// survivor makes one of the states that a power cut may leave: the content of
// every file by its path, and every folder with a nil content.
func survivor(root *object, rng *rand.Rand) map[string][]byte {
	out := map[string][]byte{}
	gather(root, "", rng, out)
	return out
}

func gather(o *object, at string, rng *rand.Rand, out map[string][]byte) {
	names := survivingNames(o, rng)
	for _, name := range slices.Sorted(maps.Keys(names)) {
		p := path.Join(at, name)
		if next := names[name]; next.folder {
			out[p] = nil
			gather(next, p, rng, out)
		} else {
			out[p] = append([]byte{}, survivingContent(next, rng)...)
		}
	}
}

// survivingNames chooses which changes of names since the last sync happened.
func survivingNames(o *object, rng *rand.Rand) map[string]*object {
	names := maps.Clone(o.keptNames)
	often := rng.IntN(3) // none, about half, all
	for _, t := range o.turns {
		if rng.IntN(2) < often {
			settleNames(names, t)
		}
	}
	return names
}

// survivingContent chooses what is left of the changes since the last sync.
func survivingContent(o *object, rng *rand.Rand) []byte {
	content := bytes.Clone(o.kept)
	if len(o.since) == 0 {
		return content
	}
	switch rng.IntN(5) {
	case 0: // nothing had got there
		return content
	case 1: // all had, up to one, which is torn
		n := rng.IntN(len(o.since))
		for _, c := range o.since[:n] {
			content = c.apply(content)
		}
		return torn(o.since[n], rng).apply(content)
	case 2: // any of them had, in any order, some torn
		return shuffled(content, o.since, rng)
	case 3: // all had
		for _, c := range o.since {
			content = c.apply(content)
		}
		return content
	}
	return bySectors(content, o.since, rng)
}

// torn keeps the beginning of a write, or its end, up to a sector or any byte.
func torn(c change, rng *rand.Rand) change {
	if len(c.data) < 2 {
		return c
	}
	at := 1 + rng.IntN(len(c.data)-1)
	if rng.IntN(2) == 0 {
		at = min(len(c.data), at+int((sector-(c.off+int64(at))%sector)%sector))
	}
	if rng.IntN(4) == 0 && at < len(c.data) {
		return change{off: c.off + int64(at), data: c.data[at:]}
	}
	return change{off: c.off, data: c.data[:at]}
}

func shuffled(content []byte, since []change, rng *rand.Rand) []byte {
	for _, i := range rng.Perm(len(since)) {
		switch rng.IntN(4) {
		case 0:
		case 1:
			content = torn(since[i], rng).apply(content)
		default:
			content = since[i].apply(content)
		}
	}
	return content
}

// bySectors lets the length and every sector stop at a moment of their own. What
// lies between the old end and the new, and was never written, is zeros or noise.
func bySectors(content []byte, since []change, rng *rand.Rand) []byte {
	old, length := int64(len(content)), int64(len(content))
	stops := map[int64]int{}
	stop := func(s int64) int {
		n, ok := stops[s]
		if !ok {
			n = rng.IntN(len(since) + 1)
			stops[s] = n
		}
		return n
	}
	for i, c := range since {
		if c.data == nil {
			for s := c.size / sector * sector; s < int64(len(content)); s += sector {
				if stop(s/sector) > i {
					from := max(s, c.size)
					clear(content[from:min(s+sector, int64(len(content)))])
				}
			}
			continue
		}
		end := c.off + int64(len(c.data))
		if end > int64(len(content)) {
			content = resized(content, end)
		}
		for at := c.off; at < end; {
			next := min(end, (at/sector+1)*sector)
			if stop(at/sector) > i {
				copy(content[at:next], c.data[at-c.off:next-c.off])
			}
			at = next
		}
	}
	for _, c := range since[:rng.IntN(len(since)+1)] {
		if c.data == nil {
			length = c.size
		} else {
			length = max(length, c.off+int64(len(c.data)))
		}
	}
	if rng.IntN(2) == 0 {
		noise(content, old, stops, rng)
	}
	return resized(content, length)
}

// noise fills the sectors beyond the old end that nothing had been written to.
func noise(content []byte, old int64, stops map[int64]int, rng *rand.Rand) {
	for s := (old + sector - 1) / sector; s*sector < int64(len(content)); s++ {
		if stops[s] != 0 {
			continue
		}
		for at := s * sector; at < min((s+1)*sector, int64(len(content))); at++ {
			content[at] = byte(rng.Uint32())
		}
	}
}
