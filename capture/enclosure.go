package capture

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Acts of what is kept beside readings.
const (
	ActPicture Verb = "picture" // Subject: what it is of; Text an [Enclosure]
	ActSound   Verb = "sound"   // Subject: what it is about; Text an [Enclosure]
	ActPart    Verb = "part"    // Subject: where it sits, or what it is; Text a [Fitted]
	// ActIndication says what the set says of itself: blink codes, error numbers.
	// It is never evidence. Text holds it.
	ActIndication Verb = "indication"
	// ActErase says that a picture or sound was erased for privacy. Subject is its
	// hash, Text the reason. The act that brought it stays, and so does its hash.
	ActErase Verb = "erase"
)

// Enclosure is a picture or a sound that a job's file holds. The act that
// carries it is bound by the chain of hashes, and with it the content.
type Enclosure struct {
	Hash   string  `json:"sha256"` // of the content as kept, lower-case hexadecimal
	Type   string  `json:"type"`   // told by the content: "image/jpeg"
	Bytes  int     `json:"bytes"`
	Width  int     `json:"width,omitempty"` // pixels as stored; 0: no picture
	Height int     `json:"height,omitempty"`
	Taken  Instant `json:"taken"` // by the camera's clock when it names its offset, else the time of receipt
	Camera string  `json:"camera,omitempty"`
	// Received reports that Taken is the time of receipt.
	Received bool `json:"received,omitempty"`
}

// Enclosure returns the enclosure that an act brought.
func (a Act) Enclosure() (Enclosure, bool) {
	var e Enclosure
	if a.Verb != ActPicture && a.Verb != ActSound || json.Unmarshal([]byte(a.Text), &e) != nil {
		return Enclosure{}, false
	}
	return e, IsHash(e.Hash)
}

// IsHash reports whether s is a SHA-256 in lower-case hexadecimal.
func IsHash(s string) bool {
	return len(s) == 64 && strings.Trim(s, "0123456789abcdef") == ""
}

// Fitted is a part that was fitted, and where it is from.
type Fitted struct {
	Type     string `json:"type"`            // as its maker calls it
	Maker    string `json:"maker,omitempty"` // "": not said
	Origin   string `json:"origin"`          // "new from distributor", "from donor board", "own stock"
	DateCode string `json:"date_code,omitempty"`
	Quantity int    `json:"quantity"`
	Replaces string `json:"replaces,omitempty"` // the part that went
	Cost     string `json:"cost,omitempty"`     // as typed, with its currency
}

// Origins are the usual ones; others may be written.
func Origins() []string { return []string{"new from distributor", "from donor board", "own stock"} }

// Fitted returns the part that an act fitted.
func (a Act) Fitted() (Fitted, bool) {
	var p Fitted
	if a.Verb != ActPart || json.Unmarshal([]byte(a.Text), &p) != nil {
		return Fitted{}, false
	}
	return p, p.Check() == nil
}

// mostParts bounds a count: more of one kind do not go onto a board.
const mostParts = 10_000

// Check reports what is missing: a part without an origin cannot be believed.
func (p Fitted) Check() error {
	for _, must := range [][2]string{{"type", p.Type}, {"origin", p.Origin}} {
		if strings.TrimSpace(must[1]) == "" {
			return fmt.Errorf("a part needs its %s; origins: %s", must[0], strings.Join(Origins(), ", "))
		}
	}
	if p.Quantity < 1 || p.Quantity > mostParts {
		return fmt.Errorf("%d pieces of %s: write a number from 1 to %d", p.Quantity, p.Type, mostParts)
	}
	return nil
}

// Act returns the act that fits the part at a place.
func (p Fitted) Act(where, by string) Act {
	text, _ := json.Marshal(p) // texts and a number: cannot fail
	return Act{Verb: ActPart, Subject: where, Text: string(text), By: by}
}

// Say tells the part in a phrase: "3 pieces of ABC-5 by Maker, new from
// distributor, date code 3127, for the old one, 12.40 EUR".
func (p Fitted) Say() string {
	say := p.Type
	if p.Maker != "" {
		say += " by " + p.Maker
	}
	if p.Quantity > 1 {
		say = strconv.Itoa(p.Quantity) + " pieces of " + say
	}
	say += ", " + p.Origin
	for _, more := range [][2]string{{"date code ", p.DateCode}, {"in place of ", p.Replaces}, {"cost ", p.Cost}} {
		if more[1] != "" {
			say += ", " + more[0] + more[1]
		}
	}
	return say
}

// Say tells what was enclosed in a phrase: "picture, 4032 × 3024, 2.1 MB, taken
// 2031-03-12 10:04:05 +01:00".
func (e Enclosure) Say() string {
	say := strings.TrimPrefix(e.Type[strings.IndexByte(e.Type, '/')+1:], "x-")
	if e.Width > 0 {
		say += fmt.Sprintf(", %d × %d", e.Width, e.Height)
	}
	say += ", " + Bytes(e.Bytes)
	switch {
	case !e.Received:
		say += ", taken by the camera’s clock"
	case e.Camera != "":
		say += ", received; the camera’s clock, its zone not said, showed " + e.Camera
	default:
		say += ", time of receipt"
	}
	return say
}

// Bytes says a size as people do, in decimal units.
func Bytes(n int) string {
	switch {
	case n >= 999_500:
		return strconv.FormatFloat(float64(n)/1e6, 'f', 1, 64) + " MB"
	case n >= 1000:
		return strconv.Itoa((n+500)/1000) + " kB"
	}
	return strconv.Itoa(n) + " bytes"
}

// ParseCamera reads the time of a camera's clock as it stands in a picture
// ("2031:03:12 10:04:05", Exif 3.0, 4.6.6.4) with its offset ("+01:00"). Without
// an offset it is no instant, and ok is false.
func ParseCamera(clock, offset string) (at Instant, ok bool) {
	t, err := time.Parse("2006:01:02 15:04:05 -07:00", clock+" "+offset)
	if err != nil || t.Year() < 1990 || t.Year() > 9000 {
		return 0, false
	}
	return InstantOf(t), true
}
