package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"

	"modernc.org/sqlite"
)

// ErrDamaged is wrapped when a file bears the mark of a job file and cannot be
// read as one: it was cut off or overwritten.
var ErrDamaged = errors.New("the job file is damaged or cut off")

// ruined tells a damaged file of ours from one that never was a job's: by the
// application id in the head of the file, which outlives what is behind it
// (sqlite.org/fileformat2.html: four bytes at 68, big endian).
func ruined(path string, err error) error {
	var why *sqlite.Error
	if !errors.As(err, &why) || !hasCode(err, codeCorrupt) && !hasCode(err, codeNotADB) {
		return err
	}
	f, open := os.Open(path)
	if open != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, 72)
	if _, short := io.ReadFull(f, head); short != nil || int64(binary.BigEndian.Uint32(head[68:])) != jobKind.id {
		return err
	}
	return fmt.Errorf("%w: %w", ErrDamaged, why)
}
