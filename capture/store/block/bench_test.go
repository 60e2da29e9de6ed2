package block

import (
	"fmt"
	"testing"
)

// page is the size of a block that fills a page of the file.
const page = 8600

// blocks cuts rows into blocks of about a page.
func blocks(rows []Row) (parts [][]Row, coded [][]byte) {
	var e Encoder
	width := 3000
	for len(rows) > 0 {
		data := e.Append(nil, rows[:min(width, len(rows))])
		width = width * page / len(data)
		part := rows[:min(width, len(rows))]
		rows = rows[len(part):]
		parts = append(parts, part)
		coded = append(coded, e.Append(nil, part))
	}
	return parts, coded[:len(parts)]
}

// BenchmarkCodec measures the mix of the storage study. "x-floor" is the size
// by the entropy of the same readings.
func BenchmarkCodec(b *testing.B) {
	for _, m := range mixes() {
		rows := m.rows(1_000_000)
		parts, coded := blocks(rows)
		size := 0
		for _, data := range coded {
			size += len(data)
		}
		each := float64(size) / float64(len(rows))
		run := func(what string, f func(i int) int) {
			b.Run(fmt.Sprintf("%s/%s", m.name, what), func(b *testing.B) {
				n := 0
				for i := 0; b.Loop(); i++ {
					n += f(i % len(parts))
				}
				b.ReportMetric(float64(n)/b.Elapsed().Seconds()/1e6, "Mreadings/s")
				b.ReportMetric(each, "B/reading")
				b.ReportMetric(each/m.floor(), "x-floor")
			})
		}
		var e Encoder
		var buf []byte
		run("encode", func(i int) int {
			buf = e.Append(buf[:0], parts[i])
			return len(parts[i])
		})
		var d Decoder
		var got []Row
		var err error
		run("rows", func(i int) int {
			if got, err = d.Rows(got[:0], coded[i]); err != nil {
				b.Fatal(err)
			}
			return len(got)
		})
		var points []Point
		run("points", func(i int) int {
			if points, err = d.Points(points[:0], coded[i]); err != nil {
				b.Fatal(err)
			}
			return len(points)
		})
	}
}
