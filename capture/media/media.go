package media

import (
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"

	"golang.org/x/image/webp"
)

const (
	// MostBytes bounds a picture or a sound: a phone's largest picture, or a
	// quarter of an hour of speech.
	MostBytes = 24 << 20
	// MostMemory bounds what decoding an image may take, in bytes: 53 million
	// pixels of an ordinary JPEG, 20 million of a PNG. A small file may claim any
	// size.
	MostMemory = 160 << 20
	// mostSide bounds a row of pixels, that of a JPEG's own limit.
	mostSide = 65535
	// SmallSide is the longer side of [Found.Small], in pixels.
	SmallSide = 640
)

// Errors that callers decide by.
var (
	// ErrUnknown is wrapped when the content is none of what is kept.
	ErrUnknown = errors.New("neither a picture nor a sound that is kept here: JPEG, PNG, WebP; WAV, Ogg, WebM, MP4 sound")
	// ErrTooLarge is wrapped when there are too many bytes or pixels.
	ErrTooLarge = errors.New("too large")
	// ErrMalformed is wrapped when the content is cut off or ruined.
	ErrMalformed = errors.New("it is cut off or ruined")
)

// Found is what a file turned out to be.
type Found struct {
	Type          string // "image/jpeg", "image/png", "image/webp", "audio/wav", "audio/ogg", "audio/webm", "audio/mp4"
	Data          []byte // what is to be kept
	Width, Height int    // pixels as stored; 0 for sound
	Small         []byte // the picture as a JPEG of at most [SmallSide], the right side up; nil for sound
	Told                 // of a picture
}

// Told is what is kept of what a picture says about itself.
type Told struct {
	Up     int    // Exif orientation, 1 to 8; 0: not said
	Clock  string // "2031:03:12 10:04:05", the camera's; "": not said
	Offset string // "+01:00" from UTC; "": not said
}

// Picture reports whether it is one.
func (f Found) Picture() bool { return f.Small != nil }

// Clean tells what a file is and returns what is to be kept of it. The error
// wraps [ErrUnknown], [ErrTooLarge] or [ErrMalformed].
func Clean(data []byte) (Found, error) {
	if len(data) > MostBytes {
		return Found{}, fmt.Errorf("%w: %d bytes, %d are the most", ErrTooLarge, len(data), MostBytes)
	}
	kind := sniff(data)
	if kind == nil {
		return Found{}, unknown(data)
	}
	f := Found{Type: kind.name}
	var err error
	if kind.sound != nil {
		f.Data, err = kind.sound(data)
		return f, err
	}
	if f.Data, f.Told, err = kind.picture(data); err != nil {
		return Found{}, err
	}
	img, err := decode(kind.name, f.Data)
	if err != nil {
		return Found{}, err
	}
	f.Width, f.Height = img.Bounds().Dx(), img.Bounds().Dy()
	f.Small, err = small(img, f.Up, SmallSide)
	return f, err
}

// Small draws a kept picture as a JPEG whose longer side is at most side pixels,
// the right side up.
func Small(data []byte, side int) ([]byte, error) {
	kind := sniff(data)
	if kind == nil || kind.picture == nil {
		return nil, unknown(data)
	}
	_, told, err := kind.picture(data)
	if err != nil {
		return nil, err
	}
	img, err := decode(kind.name, data)
	if err != nil {
		return nil, err
	}
	return small(img, told.Up, side)
}

// decode looks at the size first: a few bytes may claim a gigabyte of pixels.
func decode(name string, data []byte) (image.Image, error) {
	config, whole, perPixel := jpeg.DecodeConfig, jpeg.Decode, 3
	switch {
	case name == "image/png":
		config, whole, perPixel = png.DecodeConfig, png.Decode, 8
	case name == "image/webp":
		config, whole, perPixel = webp.DecodeConfig, webp.Decode, 5
	case progressive(data):
		perPixel = 15 // three coefficients of 32 bits beside each pixel
	}
	c, err := config(reader(data))
	if err != nil {
		return nil, malformed(err)
	}
	if max(c.Width, c.Height) > mostSide {
		return nil, fmt.Errorf("%w: %d × %d pixels, %d a side are the most", ErrTooLarge, c.Width, c.Height, mostSide)
	}
	if c.Width < 1 || c.Height < 1 {
		return nil, malformed(errors.New("it has no pixels"))
	}
	if int64(c.Width)*int64(c.Height) > int64(MostMemory/perPixel) {
		return nil, fmt.Errorf("%w: %d × %d pixels, about %d million are the most of this kind", ErrTooLarge, c.Width, c.Height, MostMemory/perPixel/1_000_000)
	}
	img, err := whole(reader(data))
	if err != nil {
		return nil, malformed(err)
	}
	return img, nil
}

func malformed(err error) error { return fmt.Errorf("%w: %w; send it again", ErrMalformed, err) }
