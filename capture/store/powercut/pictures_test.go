package powercut

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"

	"steadyrail/capture"
	"steadyrail/capture/store"
)

// Every few seconds of the script a picture comes in, and now and then the one before
// is erased again.
const (
	pictureEvery = 4 // seconds
	erasedEvery  = 3 // pictures
)

// picture is a content that a second of the script brings: from a line to more than a
// page of the file can hold.
func picture(seed uint64, s int) []byte {
	rng := rand.New(rand.NewPCG(seed, uint64(s)))
	data := make([]byte, 100+rng.IntN(20_000))
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	return data
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// pictures are the steps about pictures at the end of a second: the content first and
// then the act that names it; of an erasure the act first.
func (l load) pictures(s int) (out []step) {
	if s%pictureEvery != pictureEvery-1 {
		return nil
	}
	at := t0 + (capture.Instant(s)+1)*second - 4
	data := picture(l.Seed, s)
	what := fmt.Sprintf(`{"sha256":%q,"type":"image/jpeg","bytes":%d}`, hashOf(data), len(data))
	out = append(out, step{enclose: data}, step{rec: &capture.Record{At: at, Job: jobID, Item: capture.Act{Verb: capture.ActPicture, Subject: "a part", Text: what}}})
	if s < pictureEvery || s/pictureEvery%erasedEvery != erasedEvery-1 {
		return out
	}
	old := hashOf(picture(l.Seed, s-pictureEvery))
	return append(out, step{rec: &capture.Record{At: at + 1, Job: jobID, Item: capture.Act{Verb: capture.ActErase, Subject: old, Text: "a face"}}}, step{unenclose: old})
}

// enclosure does a step about a picture. An act must be durable before what it erases
// goes.
func enclosure(j *store.Job, s step) error {
	if s.enclose != nil {
		_, err := j.Enclose(ctx, s.enclose)
		return err
	}
	if err := j.Sync(ctx); err != nil {
		return err
	}
	return j.Unenclose(ctx, s.unenclose)
}

// pictured looks whether each picture that the record names is there, or its erasure
// is: a content that is missing or another is an error of Enclosures.
func pictured(j *store.Job) error {
	list, err := j.Enclosures(ctx)
	if err != nil {
		return err
	}
	for _, e := range list {
		if e.Erased == 0 {
			if _, err := j.Enclosure(ctx, e.What.Hash); err != nil {
				return err
			}
		}
	}
	return nil
}
