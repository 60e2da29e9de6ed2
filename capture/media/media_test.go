package media

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"
)

// where is what no kept file may hold: a position, a name, a maker.
const where = "N52 31 12.0 E13 24 17.9 Alder Customer"

// colours is a picture whose left upper quarter is red.
func colours(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{0, 0, 200, 255}
			if x < w/2 && y < h/2 {
				c = color.RGBA{220, 0, 0, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

// tiff is an Exif structure as cameras write it: orientation, time, position and
// names, little endian.
func tiff(up uint16, offset bool) []byte {
	le := binary.LittleEndian
	out := append([]byte("II*\x00"), 8, 0, 0, 0)
	field := func(tag, kind uint16, count, value uint32) {
		out = le.AppendUint32(le.AppendUint32(le.AppendUint16(le.AppendUint16(out, tag), kind), count), value)
	}
	texts := "2031:03:12 10:04:05\x00" + "+01:00\x00\x00" + where + "\x00"
	first := uint32(8 + 2 + 4*12 + 4)
	behind := first + 2 + 2*12 + 4
	out = le.AppendUint16(out, 4)
	field(0x010f, 2, uint32(len(where)), behind+28) // Make
	field(tagUp, typeShort, 1, uint32(up))
	field(tagExif, typeLong, 1, first)
	field(0x8825, typeLong, 1, behind+28) // GPS
	out = le.AppendUint32(out, 0)
	out = le.AppendUint16(out, 2)
	field(tagClock, typeASCII, 20, behind)
	if offset {
		field(tagOffset0, typeASCII, 7, behind+20)
	} else {
		field(0x9286, typeASCII, 30, behind+28) // UserComment
	}
	return append(le.AppendUint32(out, 0), texts...)
}

// fromCamera is a JPEG with everything that cameras put in, and another picture
// behind its end.
func fromCamera(t testing.TB, up uint16, offset bool) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, colours(64, 32), nil); err != nil {
		t.Fatal(err)
	}
	plain := b.Bytes()
	out := append([]byte{}, plain[:2]...)
	out = segment(out, markApp0, append([]byte("JFXX\x00"), where...))
	out = segment(out, markApp1, append([]byte(exifMark), tiff(up, offset)...))
	out = segment(out, markApp1, []byte("http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>"+where))
	out = segment(out, 0xed, []byte("Photoshop 3.0\x00"+where))
	out = segment(out, markCOM, []byte(where))
	out = append(out, plain[2:]...)
	return append(append(out, plain...), where...)
}

func pngFromCamera(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, colours(64, 32)); err != nil {
		t.Fatal(err)
	}
	plain := b.Bytes()
	out := append([]byte{}, plain[:33]...)
	out = append(out, chunkPNG("tEXt", []byte("Location\x00"+where))...)
	out = append(out, chunkPNG("eXIf", tiff(6, true))...)
	out = append(out, chunkPNG("iTXt", []byte(where))...)
	return append(append(out, plain[33:]...), where...)
}

// webpDot is one pixel, lossless: the smallest file that RFC 9649 allows.
var webpDot = chunk(nil, "VP8L", []byte("\x2f\x00\x00\x00\x10\x07\x10\x11\x11\x88\x88\xfe\x07\x00"))

func webpFromCamera() []byte {
	body := chunk(nil, "VP8X", []byte{0x2c, 0, 0, 0, 0, 0, 0, 0, 0, 0})
	body = append(body, chunk(nil, "ICCP", []byte(where))...)
	body = append(body, webpDot...)
	body = append(body, chunk(nil, "EXIF", tiff(3, true))...)
	return fileRIFF("WEBP", append(body, chunk(nil, "XMP ", []byte(where))...))
}

func TestOnlyTimeAndOrientationStay(t *testing.T) {
	for name, c := range map[string]struct {
		data []byte
		kind string
		told Told
	}{
		"JPEG":                   {fromCamera(t, 6, true), "image/jpeg", Told{6, "2031:03:12 10:04:05", "+01:00"}},
		"JPEG without an offset": {fromCamera(t, 1, false), "image/jpeg", Told{1, "2031:03:12 10:04:05", ""}},
		"PNG":                    {pngFromCamera(t), "image/png", Told{6, "2031:03:12 10:04:05", "+01:00"}},
		"WebP":                   {webpFromCamera(), "image/webp", Told{3, "2031:03:12 10:04:05", "+01:00"}},
		"WebP, simple":           {fileRIFF("WEBP", webpDot), "image/webp", Told{}},
	} {
		t.Run(name, func(t *testing.T) {
			f, err := Clean(c.data)
			if err != nil {
				t.Fatal(err)
			}
			if f.Type != c.kind || f.Told != c.told || !f.Picture() {
				t.Errorf("%s %+v", f.Type, f.Told)
			}
			if bytes.Contains(f.Data, []byte("Alder")) || bytes.Contains(f.Small, []byte("Alder")) {
				t.Error("what the camera knew is still there")
			}
			again, err := Clean(f.Data)
			if err != nil || !bytes.Equal(again.Data, f.Data) || again.Told != f.Told {
				t.Errorf("taken in a second time it is another: %v %+v", err, again.Told)
			}
		})
	}
}

// A picture that lies on its side is drawn upright.
func TestSmallIsUpright(t *testing.T) {
	want := map[int][2]int{1: {0, 0}, 2: {1, 0}, 3: {1, 1}, 4: {0, 1}, 5: {0, 0}, 6: {1, 0}, 7: {1, 1}, 8: {0, 1}} // the corner that is red
	for up, corner := range want {
		b, err := small(colours(1500, 700), up, 100)
		if err != nil {
			t.Fatal(err)
		}
		img, err := jpeg.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		w, h := img.Bounds().Dx(), img.Bounds().Dy()
		if max(w, h) != 100 || (w > h) != (up < 5) {
			t.Errorf("%d: %d by %d", up, w, h)
		}
		for x := range 2 {
			for y := range 2 {
				r, _, b, _ := img.At(w/4+x*w/2, h/4+y*h/2).RGBA()
				if red := r > b; red != (corner == [2]int{x, y}) {
					t.Errorf("%d: corner %d %d is red: %v", up, x, y, red)
				}
			}
		}
	}
}

// bomb is a PNG of a few bytes that claims to be large.
func bomb(w, h uint32) []byte {
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	out := append([]byte(pngMark), chunkPNG("IHDR", append(head, 8, 6, 0, 0, 0))...)
	return append(append(out, chunkPNG("IDAT", []byte{0x78, 0x9c})...), chunkPNG("IEND", nil)...)
}

func TestRefused(t *testing.T) {
	camera := fromCamera(t, 1, true)
	for name, c := range map[string]struct {
		data []byte
		want error
		say  string
	}{
		"nothing":              {nil, ErrUnknown, "neither"},
		"a page":               {[]byte("<html><script>alert(1)</script></html>"), ErrUnknown, "neither"},
		"a program":            {[]byte("\x7fELF\x02\x01\x01"), ErrUnknown, "neither"},
		"a picture in boxes":   {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00heicmif1"), ErrUnknown, "set the camera to take JPEG"},
		"too many bytes":       {make([]byte, MostBytes+1), ErrTooLarge, "are the most"},
		"too many pixels":      {bomb(60000, 60000), ErrTooLarge, "60000 × 60000"},
		"one endless row":      {bomb(1<<31-1, 1), ErrTooLarge, "a side"},
		"cut off":              {camera[:len(camera)/3], ErrMalformed, "send it again"},
		"a head alone":         {camera[:3], ErrMalformed, "ends early"},
		"a film in boxes":      {mp4("vide"), ErrMalformed, "moving pictures"},
		"a film in WebM":       {webm(1), ErrMalformed, "moving pictures"},
		"a moving WebP":        {fileRIFF("WEBP", chunk(nil, "VP8X", []byte{2, 0, 0, 0, 0, 0, 0, 0, 0, 0})), ErrMalformed, "still"},
		"a WAV without sounds": {fileRIFF("WAVE", chunk(nil, "LIST", []byte("INFO"))), ErrMalformed, "ends early"},
		"Ogg without sound":    {oggOf(whole(2, 0, "fishead")), ErrMalformed, "no sound"},
	} {
		t.Run(name, func(t *testing.T) {
			f, err := Clean(c.data)
			if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.say) {
				t.Errorf("%v %s", err, f.Type)
			}
		})
	}
}

func box(name string, body ...[]byte) []byte {
	all := bytes.Join(body, nil)
	return append(append(binary.BigEndian.AppendUint32(nil, uint32(len(all)+8)), name...), all...)
}

func mp4(handler string) []byte {
	hdlr := box("hdlr", make([]byte, 8), []byte(handler), make([]byte, 13))
	return bytes.Join([][]byte{box("ftyp", []byte("M4A \x00\x00\x00\x00M4A ")),
		box("moov", box("udta", []byte(where)), box("trak", box("mdia", hdlr), box("meta", []byte(where)))), box("mdat", []byte("sound"))}, nil)
}

// webm has a segment whose length is not known, as browsers record it.
func webm(kind byte) []byte {
	out := []byte("\x1a\x45\xdf\xa3\x84webm\x18\x53\x80\x67\x01\xff\xff\xff\xff\xff\xff\xff")
	out = append(out, 0x16, 0x54, 0xae, 0x6b, 0x85, 0xae, 0x83, 0x83, 0x81, kind)
	out = append(out, 0x12, 0x54, 0xc3, 0x67, 0x80|byte(len(where)))
	out = append(out, where...)
	return append(out, 0x1f, 0x43, 0xb6, 0x75, 0xff, 0xe7, 0x81, 0, 0xa3, 0x85, 's', 'o', 'u', 'n', 'd')
}

func TestSoundLosesWhatDescribesIt(t *testing.T) {
	wav := fileRIFF("WAVE", append(append(chunk(nil, "fmt ", make([]byte, 16)), chunk(nil, "LIST", []byte(where))...), chunk(nil, "data", []byte("sound"))...))
	for kind, data := range map[string][]byte{"audio/mp4": mp4("soun"), "audio/webm": webm(2), "audio/wav": wav, "audio/ogg": opus()} {
		f, err := Clean(data)
		if err != nil || f.Type != kind || f.Picture() {
			t.Errorf("%s: %v %s", kind, err, f.Type)
			continue
		}
		if bytes.Contains(f.Data, []byte("Alder")) || !bytes.Contains(f.Data, []byte("sound")) {
			t.Errorf("%s: %q", kind, f.Data)
		}
		if again, err := Clean(f.Data); err != nil || !bytes.Equal(again.Data, f.Data) {
			t.Errorf("%s a second time: %v", kind, err)
		}
	}
}

// FuzzClean looks for what ends the program, and for a kept file that is not
// taken in again as it is.
func FuzzClean(f *testing.F) {
	for _, seed := range [][]byte{fromCamera(f, 6, true), fromCamera(f, 1, false), pngFromCamera(f), webpFromCamera(), mp4("soun"), webm(2), bomb(9, 9),
		fileRIFF("WAVE", append(chunk(nil, "fmt ", make([]byte, 16)), chunk(nil, "data", []byte("sound"))...))} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		found, err := Clean(data)
		if err != nil {
			return
		}
		again, err := Clean(found.Data)
		if err != nil || !bytes.Equal(again.Data, found.Data) || again.Told != found.Told {
			t.Fatalf("%s: %v, %+v then %+v", found.Type, err, found.Told, again.Told)
		}
		if found.Picture() && found.Type != "image/webp" && len(metadata(found)) > 120 {
			t.Fatalf("%d bytes beside the image", len(metadata(found)))
		}
	})
}

// metadata is what a kept picture holds that is not its image.
func metadata(f Found) (out []byte) {
	if f.Type == "image/jpeg" {
		_ = segments(f.Data, func(mark byte, payload, _ []byte) error {
			if mark >= markApp0 && mark <= markApp15 && mark != markApp14 || mark == markCOM {
				out = append(out, payload...)
			}
			return nil
		})
		return out
	}
	if _, rest, ok := bytes.Cut(f.Data, []byte("eXIf")); ok {
		return rest[:min(len(rest), 100)]
	}
	return nil
}
