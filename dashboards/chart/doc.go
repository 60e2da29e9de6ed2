// Package chart draws the record of a rail as SVG, on the server: right
// without a script, the same in every theme, vectors on paper.
//
// [Rail] draws a span of time with the band in the middle, [Trace] the small
// line of a lane, [Event] one fall reading by reading. What is drawn follows
// the rules of the look: the band owns the middle whatever the readings do,
// what leaves the frame is cut and keeps its figure, nothing is smoothed, and
// no line ever crosses a stretch that nobody watched. A negative rail is drawn
// by magnitude, so that low lies below; its figures keep their sign.
//
// Every shape carries the class names of the style sheet and, for pages without
// it, presentation attributes that follow the sheet's custom properties. The
// same model always gives the same bytes. All text is escaped. Nothing here
// holds state, so all functions are safe for concurrent use.
package chart

import (
	"io"
	"time"

	"steadyrail/capture"
)

// RailModel is what [Rail] draws. The zero value of everything but Rail and
// Series is sensible.
type RailModel struct {
	ID         string            // prefix of the element ids, unique on the page; "": from the rail's name
	Title      string            // accessible name; "": the rail and its span
	Rail       capture.Rail      // band, target, polarity, name
	Series     []capture.Bucket  // volt, in order of time; a bucket of one reading may have From = To
	Resolution float64           // volt, one count; 0: not known
	Every      time.Duration     // usual spacing of readings; 0: taken from the series
	Below      []Strip           // further strips on the same time axis: temperature
	Cold       []Span            // without power: what lies below the band there is no fall
	Fell       []capture.Instant // when an alarm said that it fell: it was under power, or should have been
	Gaps       []capture.Gap     // known blind stretches, hatched in every strip
	Marks      []Mark            // the event lane
	From, To   capture.Instant   // the axis; 0: what the series covers
	Zone       *time.Location    // of the labels; nil: UTC
	Width      float64           // user units; 0: 960
	Height     float64           // user units; 0: 300, or 380 with a second strip
	Text       float64           // size of letters in user units; 0: 13
}

// Strip is a second record below the rail's, with a unit and height of its
// own, on the same time axis.
type Strip struct {
	Name       string // "stand-in case"
	Quantity   capture.Quantity
	Series     []capture.Bucket
	Resolution float64
	Every      time.Duration
}

// MarkKind tells an alarm from a note.
type MarkKind uint8

// The kinds of marks. The zero value is a note: a ring in the lane. An alarm is
// a diamond whose line crosses all strips.
const (
	Note MarkKind = iota
	Alarm
)

// Mark is something that happened.
type Mark struct {
	At   capture.Instant
	Kind MarkKind
	Word string // "collapse 03:17:42"; left out where it would hit a neighbour, kept as the mark's title
}

// TraceModel is what [Trace] draws.
type TraceModel struct {
	Rail     capture.Rail
	Series   []capture.Bucket
	Every    time.Duration
	From, To capture.Instant // 0: what the series covers; where readings stop earlier the line stops too
}

// EventModel is what [Event] draws.
type EventModel struct {
	ID         string
	Title      string
	Rail       capture.Rail
	Points     []capture.Point2 // volt; points that are not good break the line
	Resolution float64
	Zone       *time.Location
	Width      float64 // 0: 440
	Height     float64 // 0: 180
	Text       float64 // 0: 13
}

// Rail writes the chart of a rail as one svg element. The error is the
// writer's.
func Rail(w io.Writer, m RailModel) error { return write(w, drawRail(m)) }

// Trace writes the small line of a lane as one svg element without text, to be
// stretched to any box. The error is the writer's.
func Trace(w io.Writer, m TraceModel) error { return write(w, drawTrace(m)) }

// Event writes one fall, reading by reading, with the whole fall in sight. The
// error is the writer's.
func Event(w io.Writer, m EventModel) error { return write(w, drawEvent(m)) }

func write(w io.Writer, p *pen) error {
	_, err := io.WriteString(w, p.String())
	return err
}
