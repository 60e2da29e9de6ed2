package media

import (
	"bytes"
	"image"
	"image/draw"
	"image/jpeg"
)

// quality of a small picture: a solder joint is still seen.
const quality = 78

// small draws an image within a square, as the mean of the pixels that fall into
// each of its own, upright, on white.
func small(img image.Image, up, side int) ([]byte, error) {
	shrunk := turned(shrink(img, max(side, 1)), up)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, shrunk, &jpeg.Options{Quality: quality}); err != nil {
		return nil, malformed(err)
	}
	return b.Bytes(), nil
}

// shrink means over boxes of pixels. It goes along one row at a time: the whole
// picture in another form would be a second one in memory.
func shrink(img image.Image, side int) *image.RGBA {
	from := img.Bounds()
	w, h := from.Dx(), from.Dy()
	dw, dh := fit(w, h, side)
	out := image.NewRGBA(image.Rect(0, 0, dw, dh))
	line := image.NewRGBA(image.Rect(0, 0, w, 1))
	sums, counts := make([]uint32, 3*dw), make([]uint32, dw)
	for y := range h {
		draw.Draw(line, line.Rect, image.White, image.Point{}, draw.Src)
		draw.Draw(line, line.Rect, img, image.Pt(from.Min.X, from.Min.Y+y), draw.Over)
		for x := range w {
			d := x * dw / w
			p := line.Pix[4*x : 4*x+3]
			sums[3*d], sums[3*d+1], sums[3*d+2] = sums[3*d]+uint32(p[0]), sums[3*d+1]+uint32(p[1]), sums[3*d+2]+uint32(p[2])
			counts[d]++
		}
		if row := y * dh / h; y == h-1 || (y+1)*dh/h != row {
			put(out.Pix[row*out.Stride:], sums, counts)
			clear(sums)
			clear(counts)
		}
	}
	return out
}

func put(row []byte, sums, counts []uint32) {
	for d, n := range counts {
		for c := range 3 {
			row[4*d+c] = byte((sums[3*d+c] + n/2) / n)
		}
		row[4*d+3] = 255
	}
}

// fit returns a size within a square, never larger than it is.
func fit(w, h, side int) (int, int) {
	long := max(w, h)
	if long <= side {
		return w, h
	}
	return max(1, w*side/long), max(1, h*side/long)
}

// turned sets an image upright (Exif 3.0, 4.6.5.1, Orientation).
func turned(img *image.RGBA, up int) *image.RGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	at := map[int]func(x, y int) (int, int){
		2: func(x, y int) (int, int) { return w - 1 - x, y },
		3: func(x, y int) (int, int) { return w - 1 - x, h - 1 - y },
		4: func(x, y int) (int, int) { return x, h - 1 - y },
		5: func(x, y int) (int, int) { return y, x },
		6: func(x, y int) (int, int) { return h - 1 - y, x },
		7: func(x, y int) (int, int) { return h - 1 - y, w - 1 - x },
		8: func(x, y int) (int, int) { return y, w - 1 - x },
	}[up]
	if at == nil {
		return img
	}
	size := image.Rect(0, 0, w, h)
	if up >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	out := image.NewRGBA(size)
	for y := range h {
		for x := range w {
			to, row := at(x, y)
			copy(out.Pix[out.PixOffset(to, row):][:4], img.Pix[img.PixOffset(x, y):][:4])
		}
	}
	return out
}
