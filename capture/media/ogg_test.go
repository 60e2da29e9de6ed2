package media

import (
	"bytes"
	"encoding/binary"
	"errors"
	"strings"
	"testing"
)

// oggOf makes pages: each is its flags and the packets on it, the last of which goes on
// on the next page when more is true.
type oggTestPage struct {
	flags   byte
	granule uint64
	body    []byte
	lacing  []byte
}

func oggOf(pages ...oggTestPage) (out []byte) {
	for i, p := range pages {
		head := append([]byte("OggS\x00"), p.flags)
		head = binary.LittleEndian.AppendUint64(head, p.granule)
		head = binary.LittleEndian.AppendUint32(head, 0xa1de)
		head = binary.LittleEndian.AppendUint32(head, uint32(i))
		head = append(head, 0, 0, 0, 0, byte(len(p.lacing)))
		out = appendPage(out, head, uint32(i), p.lacing, p.body)
	}
	return out
}

// whole is a page of packets that end on it.
func whole(flags byte, granule uint64, packets ...string) oggTestPage {
	p := oggTestPage{flags: flags, granule: granule}
	for _, text := range packets {
		p.body = append(p.body, text...)
		n := len(text)
		for ; n >= 255; n -= 255 {
			p.lacing = append(p.lacing, 255)
		}
		p.lacing = append(p.lacing, byte(n))
	}
	return p
}

// tags are comments that tell too much.
func tags(head string, more int) string {
	return head + "\x05\x00\x00\x00vendo\x01\x00\x00\x00" + string(rune(len(where))) + "\x00\x00\x00" + where + strings.Repeat("x", more)
}

func opus() []byte {
	return oggOf(whole(2, 0, "OpusHead\x01\x01"), whole(0, 0, tags("OpusTags", 0)), whole(0, 960, "sound"), whole(4, 1920, "more"))
}

// opusLong has comments that take three pages.
func opusLong() []byte {
	text := tags("OpusTags", 900)
	cut := oggTestPage{granule: ^uint64(0), body: []byte(text[:510]), lacing: []byte{255, 255}}
	on := oggTestPage{flags: 1, granule: ^uint64(0), body: []byte(text[510:765]), lacing: []byte{255}}
	end := whole(1, 0, text[765:])
	return oggOf(whole(2, 0, "OpusHead\x01\x01"), cut, on, end, whole(4, 960, "sound"))
}

// vorbis has its comments and its set-up on one page, and the set-up goes on.
func vorbis() []byte {
	page := whole(0, ^uint64(0), tags("\x03vorbis", 0)+"\x01")
	page.body = append(page.body, bytes.Repeat([]byte{7}, 255)...)
	page.lacing = append(page.lacing, 255)
	return oggOf(whole(2, 0, "\x01vorbis head"), page, whole(1, 0, "rest of it"), whole(4, 512, "sound"))
}

// The checksum is CRC-32/CKSUM of the catalogue of parametrised CRC algorithms, whose
// check is 0x765e7680, without its last inversion.
func TestSealOfAPage(t *testing.T) {
	if got := sealed([]byte("123456789")); got != ^uint32(0x765e7680) {
		t.Errorf("%08x", got)
	}
}

// Comments go; sound, granule positions and everything behind stay, and each page is
// sealed and numbered without a gap.
func TestOggLosesItsComments(t *testing.T) {
	for name, data := range map[string][]byte{"Opus": opus(), "Opus with long comments": opusLong(), "Vorbis": vorbis(),
		"Speex": oggOf(whole(2, 0, "Speex   1"), whole(0, 0, tags("", 3)), whole(4, 9, "sound"))} {
		t.Run(name, func(t *testing.T) {
			f, err := Clean(data)
			if err != nil || f.Type != "audio/ogg" {
				t.Fatalf("%v %s", err, f.Type)
			}
			if bytes.Contains(f.Data, []byte("Alder")) || bytes.Contains(f.Data, []byte("vendo")) || bytes.Contains(f.Data, []byte("xxx")) || !bytes.Contains(f.Data, []byte("sound")) {
				t.Errorf("%q", f.Data)
			}
			before, err1 := oggPages(data)
			after, err2 := oggPages(f.Data)
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			for i, p := range after {
				if p.number() != uint32(i) || i != 1 && p.flags() != before[i+len(before)-len(after)].flags() && i > 0 {
					t.Errorf("page %d: number %d, flags %d", i, p.number(), p.flags())
				}
			}
			last, was := after[len(after)-1], before[len(before)-1]
			if !bytes.Equal(last.body, was.body) || !bytes.Equal(last.raw[5:14], was.raw[5:14]) {
				t.Errorf("the last page was %q, is %q", was.raw, last.raw)
			}
			if again, err := Clean(f.Data); err != nil || !bytes.Equal(again.Data, f.Data) {
				t.Errorf("a second time: %v", err)
			}
		})
	}
	f, err := Clean(vorbis())
	if err != nil {
		t.Fatal(err)
	}
	pages, _ := oggPages(f.Data)
	if want := append([]byte("\x03vorbis\x00\x00\x00\x00\x00\x00\x00\x00\x01"), bytes.Repeat([]byte{7}, 255)...); !bytes.Equal(pages[1].body, want) || !bytes.Equal(pages[1].lacing, []byte{16, 255}) {
		t.Errorf("the set-up behind the comments: %q %v", pages[1].body, pages[1].lacing)
	}
	if f, _ = Clean(opusLong()); f.Data != nil {
		if pages, _ := oggPages(f.Data); len(pages) != 3 || binary.LittleEndian.Uint64(pages[1].raw[6:]) != 0 {
			t.Errorf("%d pages", len(pages))
		}
	}
}

func TestOggThatIsRefused(t *testing.T) {
	damaged := opus()
	damaged[len(damaged)-1] ^= 1
	second := oggOf(whole(2, 0, "OpusHead"), whole(2, 0, "OpusHead"))
	for say, data := range map[string][]byte{
		"is damaged":          damaged,
		"ends early":          opus()[:60],
		"more than one":       second,
		"no sound of a kind":  oggOf(whole(2, 0, "fishead")),
		"not that of comment": oggOf(whole(2, 0, "OpusHead"), whole(0, 0, "sound")),
	} {
		if _, err := Clean(data); !errors.Is(err, ErrMalformed) || !strings.Contains(err.Error(), say) {
			t.Errorf("%s: %v", say, err)
		}
	}
}

// FuzzOgg seals what it is given, so that more than the seal is tried.
func FuzzOgg(f *testing.F) {
	for _, seed := range [][]byte{opus(), opusLong(), vorbis()} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		found, err := Clean(resealed(bytes.Clone(data)))
		if err != nil || found.Type != "audio/ogg" {
			return
		}
		again, err := Clean(found.Data)
		if err != nil || !bytes.Equal(again.Data, found.Data) {
			t.Fatalf("%q then %q: %v", found.Data, again.Data, err)
		}
	})
}

// resealed seals each page that data have.
func resealed(data []byte) []byte {
	for at := 0; at+oggHead <= len(data); {
		head := at + oggHead + int(data[at+26])
		if head > len(data) {
			return data
		}
		end := head
		for _, n := range data[at+oggHead : head] {
			end += int(n)
		}
		if end > len(data) {
			return data
		}
		binary.LittleEndian.PutUint32(data[at+oggSeal:], sealed(data[at:end]))
		at = end
	}
	return data
}
