// Package block is the codec for a block of readings of one channel: lossless,
// near the entropy of the readings, and simple enough to be read by a short
// program in another language. The format stands in format.txt.
//
// The rows are split into columns of integers. Each column is predicted, and
// what the prediction misses is written in Rice codes. Values are the digits
// that the instrument sent; a float64 that those digits do not give is kept bit
// by bit.
//
// An [Encoder] and a [Decoder] keep scratch space for reuse and are not safe
// for concurrent use. Their zero values are ready.
package block

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"steadyrail/capture"
)

// Version is the first byte of every block.
const Version = 1

// MaxRows is the most rows a block can hold.
const MaxRows = 65535

// ErrCorrupt is wrapped by every error of decoding: the bytes are not a block
// of this version.
var ErrCorrupt = errors.New("not a readable block of readings")

// Row is one reading of the channel with its instant: what [capture.Reading] says,
// but for Channel and Quantity, which are not coded, since the file knows them. It
// is small: of those that wait for a block a job holds some ten thousand.
type Row struct {
	At                capture.Instant
	Tie               uint32 // rank among the records of the job with the same instant; nearly always 0
	Flags             capture.Flags
	Value             float64
	Text              string
	Resolution, Range float64
	Measured          capture.Instant
	HalfWidth         time.Duration
	Ordinal           uint64
}

// RowOf returns the row of a reading.
func RowOf(at capture.Instant, tie uint32, r *capture.Reading) Row {
	return Row{At: at, Tie: tie, Flags: r.Flags, Value: r.Value, Text: r.Text, Resolution: r.Resolution, Range: r.Range,
		Measured: r.Measured, HalfWidth: r.HalfWidth, Ordinal: r.Ordinal}
}

// Reading returns the reading of a row; Channel and Quantity are those given.
func (r *Row) Reading(channel capture.ChannelID, q capture.Quantity) capture.Reading {
	return capture.Reading{Channel: channel, Quantity: q, Flags: r.Flags, Value: r.Value, Text: r.Text, Resolution: r.Resolution, Range: r.Range,
		Measured: r.Measured, HalfWidth: r.HalfWidth, Ordinal: r.Ordinal}
}

// Point is what an overview needs of a row.
type Point struct {
	At    capture.Instant
	Tie   uint32
	Value float64 // base unit of the channel's quantity; without meaning under [capture.NoValue]
	Flags capture.Flags
}

// Count returns the number of rows of a block without decoding it. Its error
// wraps [ErrCorrupt].
func Count(data []byte) (int, error) {
	n, _, err := head(data)
	return n, err
}

// head reads the version and the number of rows, and returns what follows.
func head(data []byte) (n int, rest []byte, err error) {
	if len(data) == 0 || data[0] != Version {
		return 0, nil, corrupt("it does not begin with version %d", Version)
	}
	v, rest, err := uvarint(data[1:])
	if err != nil {
		return 0, nil, err
	}
	if v < 1 || v > MaxRows {
		return 0, nil, corrupt("%d rows, where 1 to %d can be", v, MaxRows)
	}
	return int(v), rest, nil
}

func corrupt(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrCorrupt, fmt.Sprintf(format, args...))
}

// uvarint reads an unsigned LEB128 number of at most 64 bits.
func uvarint(data []byte) (uint64, []byte, error) {
	v, n := binary.Uvarint(data)
	if n <= 0 {
		return 0, nil, corrupt("it ends within a number, %d bytes before its end", len(data))
	}
	return v, data[n:], nil
}

// varint reads a zigzag number.
func varint(data []byte) (int64, []byte, error) {
	u, rest, err := uvarint(data)
	return unzigzag(u), rest, err
}

// take cuts n bytes off.
func take(data []byte, n uint64) (part, rest []byte, err error) {
	if n > uint64(len(data)) {
		return nil, nil, corrupt("%d bytes are due and %d are left", n, len(data))
	}
	return data[:n], data[n:], nil
}

// zigzag maps 0, -1, 1, -2, ... to 0, 1, 2, 3, ...
func zigzag(v int64) uint64 { return uint64(v)<<1 ^ uint64(v>>63) }

func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

// floorDiv divides, rounding down.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// lag is what the instant of a row is behind the middle of its measuring, less
// the half-width, in microseconds. For most instruments it is constant, since
// Measured was reckoned back from the answer. Arithmetic wraps around.
func lag(at, measured, halfWidth int64) int64 { return at - measured - floorDiv(halfWidth, 1000) }
