package store

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
)

const childEnv = "STEADYRAIL_STORE_CHILD"

// stored is the record that the child writes with number i, so that the parent
// knows it without being told.
func stored(i int) capture.Record {
	at := t0 + capture.Instant(i*100)
	if i%97 == 0 {
		return capture.Record{At: at, Job: "AB-0147", Item: capture.Act{Verb: capture.ActNote, Text: strconv.Itoa(i)}}
	}
	return volts(at, capture.ChannelID([]string{"a/volts", "b/volts", "c/volts"}[i%3]), float64(i)/7)
}

// picture is the content that the child encloses with number i, of some pages.
func picture(i int) []byte { return bytes.Repeat([]byte(strconv.Itoa(i)+" "), 20_000) }

// enclosing is the act that names it.
func enclosing(i int) capture.Record {
	sum := sha256.Sum256(picture(i))
	text, _ := json.Marshal(capture.Enclosure{Hash: hex.EncodeToString(sum[:]), Type: "image/jpeg", Bytes: len(picture(i))})
	return capture.Record{At: stored(i).At + 1, Job: "AB-0147", Item: capture.Act{Verb: capture.ActPicture, Subject: strconv.Itoa(i), Text: string(text)}}
}

// child goes on with the job at full speed and says on stdout how many records
// it knows to be durable, until it is killed.
func child(dir string) {
	fail := func(err error) {
		fmt.Println("error", err)
		os.Exit(1)
	}
	w, err := OpenWorkspace(dir, quick)
	if err != nil {
		fail(err)
	}
	from, err := strconv.Atoi(os.Getenv(childEnv + "_FROM"))
	if err != nil {
		fail(err)
	}
	now := stored(from).At - 1
	j, err := w.Open("AB-0147", now)
	if err != nil {
		if j, err = w.Create(capture.Sheet{Job: "AB-0147"}); err != nil {
			fail(err)
		}
	}
	fmt.Println("began")
	for i := from; ; i++ {
		j.Consume(stored(i))
		if i%211 == 0 {
			j.Transition(capture.Transition{At: stored(i).At, Alarm: strconv.Itoa(i)})
		}
		if i%800 == 388 {
			if _, err := j.Enclose(ctx, picture(i)); err != nil {
				fail(err)
			}
			j.Consume(enclosing(i))
		}
		if i%800 == 799 {
			if err := j.Sync(ctx); err != nil {
				fail(err)
			}
			fmt.Println(i)
		}
	}
}

// Killed at random moments under full load, the job keeps every record that was
// known to be durable, whole and in order; the time since is marked as a gap.
func TestKill(t *testing.T) {
	dir := t.TempDir()
	kills := 3
	if testing.Short() {
		kills = 1
	}
	next := 0 // number of the next record to write
	for range kills {
		acked := killOnce(t, dir, next)
		next = afterKill(t, dir, acked) + 1000
	}
}

// killOnce lets a child write from record from on, kills it, and returns the
// newest record it called durable, or -1.
func killOnce(t *testing.T, dir string, from int) int {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childEnv+"="+dir, childEnv+"_FROM="+strconv.Itoa(from))
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	if !lines.Scan() || lines.Text() != "began" {
		t.Fatalf("child says %q", lines.Text())
	}
	time.AfterFunc(time.Duration(20+rand.IntN(400))*time.Millisecond, func() { _ = cmd.Process.Kill() }) // the moment is the test
	acked := -1
	for lines.Scan() {
		n, err := strconv.Atoi(lines.Text())
		if err != nil {
			t.Fatalf("child says %q", lines.Text())
		}
		acked = n
	}
	if err := cmd.Wait(); err == nil || !strings.Contains(err.Error(), "kill") {
		t.Fatalf("child ended with %v", err)
	}
	return acked
}

// afterKill looks at what is left and returns the number of the newest record.
func afterKill(t *testing.T, dir string, acked int) int {
	w, err := OpenWorkspace(dir, quick)
	if err != nil {
		t.Fatal(err) // a dead holder must not hold
	}
	defer w.Close()
	path, _ := w.Path("AB-0147")
	left, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if left.LeftInOrder() {
		t.Error("the file says that it was closed")
	}
	head := verify(t, left) // integrity, chain and cells
	upto, err := left.Upto(ctx)
	if err != nil {
		t.Fatal(err)
	}
	newest, stale := -1, 0
	err = left.Records(ctx, 0, 0, func(r capture.Record) error {
		if _, ok := r.Item.(capture.Gap); ok {
			stale++
			return nil
		}
		i := int(r.At-t0) / 100
		if a, _ := r.Item.(capture.Act); a.Verb == capture.ActPicture {
			e, _ := a.Enclosure()
			if data, err := left.Enclosure(ctx, e.Hash); err != nil || !bytes.Equal(data, picture(i)) {
				t.Fatalf("picture %d: %v", i, err)
			}
			return nil
		}
		if !same(r, stored(i)) {
			t.Fatalf("record %d came back as %+v", i, r)
		}
		if i != newest+1 && stale == 0 {
			t.Fatalf("record %d follows on %d", i, newest)
		}
		newest, stale = i, 0
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	closeJob(t, left)
	if newest < acked {
		t.Fatalf("record %d was durable; the newest is %d", acked, newest)
	}
	if head.Count == 0 {
		return newest
	}
	now := upto + 3_000_000
	j, err := w.Open("AB-0147", now)
	if err != nil {
		t.Fatal(err)
	}
	rec, ok := j.Gap()
	if gap, _ := rec.Item.(capture.Gap); !ok || gap.From != upto || gap.To != now || gap.Reason != notRunning {
		t.Errorf("gap %+v, want from %d to %d", rec, upto, now)
	}
	verify(t, j)
	closeJob(t, j)
	return int(now-t0) / 100
}
