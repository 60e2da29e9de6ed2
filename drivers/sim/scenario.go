package sim

import "time"

// Scenario says what lies on the bench when it begins. A zero field takes the
// value of [Alderbrook], so the zero Scenario is the Alderbrook job.
type Scenario struct {
	// Short is the resistance of PS2's broken output in ohm.
	Short float64
	// Leads is the resistance of a meter's two test leads together in ohm.
	Leads float64
	// Trimmer is where the stand-in's trimmer was left, in turns from its
	// lower end; about 40 mV a turn.
	Trimmer float64
	// Room is the mean temperature of the room in degrees Celsius.
	Room float64
	// JointPerHour lets the stand-in's input joint fail by itself: so many
	// times an hour at 45 °C, twice as often for every 10 K more. Zero: never.
	JointPerHour float64
	// AutoOff lets a meter switch itself off so long after it was switched
	// on, by instrument name. Absent: never.
	AutoOff map[string]time.Duration
	// TCP serves every instrument on 127.0.0.1 even where there are
	// pseudo-terminals.
	TCP bool
	// Transport serves single instruments otherwise, by instrument name: as
	// [TransportTCP], [TransportHiSLIP] or [TransportVXI11], on 127.0.0.1.
	Transport map[string]string
	// Baud lets answers take the time that they need on a line of that speed, in
	// bench time: a pseudo-terminal takes none. 0: none.
	Baud int
	// Dir is the folder for the pseudo-terminals' stable names. Empty: a new
	// temporary folder, removed by [Bench.Close].
	Dir string
}

// Alderbrook is the job of the demo: the main board of an Alderbrook 88 stage
// piano, fed with 24 V, whose potted +5 V converter PS2 is short at its output.
// The stand-in lies beside it with its trimmer low.
func Alderbrook() Scenario {
	return Scenario{Short: 0.845, Leads: 0.18, Trimmer: 4.3, Room: 22.5}
}

func (s Scenario) withDefaults() Scenario {
	d := Alderbrook()
	for _, f := range []struct{ have, want *float64 }{
		{&s.Short, &d.Short}, {&s.Leads, &d.Leads}, {&s.Trimmer, &d.Trimmer}, {&s.Room, &d.Room},
	} {
		if *f.have == 0 {
			*f.have = *f.want
		}
	}
	return s
}

// Instrument names of the bench, as in [Bench.Links].
const (
	DMM    = "dmm"  // bench multimeter
	DMM2   = "dmm2" // further multimeters, so that every rail can keep a clip
	DMM3   = "dmm3"
	DMM4   = "dmm4"
	Supply = "supply" // bench supply
	Thermo = "thermo" // thermometer
)

// Instruments lists the bench's instruments in a fixed order.
func Instruments() []string { return []string{DMM, DMM2, DMM3, DMM4, Supply, Thermo} }

// Parts that can be unplugged or lifted and put back.
const (
	CN3     = "CN3"      // connector of the logic board
	C104    = "C104"     // 1000 µF on +5 V
	PS2     = "PS2"      // the potted +5 V converter
	StandIn = "stand-in" // the converter that takes its place; begins off the board
)

// Parts lists the parts of [Bench.Plug] and [Bench.Unplug].
func Parts() []string { return []string{CN3, C104, PS2, StandIn} }

// Places for the supply's leads, for [Bench.Feed].
const (
	FeedBoard   = "board"    // the board's 24 V input; where they begin
	FeedStandIn = "stand-in" // the stand-in alone, on the bench, unloaded
	FeedRail5   = "TP5"      // the +5 V rail and its return, as an injection needs it
	FeedNothing = "nothing"
)

// Feeds lists the places for the supply's leads.
func Feeds() []string { return []string{FeedBoard, FeedStandIn, FeedRail5, FeedNothing} }

// Points that a probe can be put on. Voltage rails answer to their test point
// and to the rail's name.
const (
	PointReturn     = "0 V"           // both leads on the return
	PointShorted    = "leads shorted" // the two probes held together
	Point24         = "TP24"          // board input, "+24 V input"
	Point5          = "TP5"           // "+5 V logic"
	Point12         = "TP12"          // "+12 V audio"
	PointMinus12    = "TP13"          // "-12 V audio"
	Point3          = "TP3"           // "+3.3 V DSP"
	PointPS2        = "PS2 pin out"
	PointStandInOut = "stand-in out"
	PointStandInIn  = "stand-in in"
	PointCase       = "stand-in case" // thermometer only
	PointRoom       = "room"          // thermometer only
)

// electricPoints maps every name a multimeter's probe can be sent to.
var electricPoints = map[string]node{
	PointReturn: -1, PointShorted: -1,
	Point24: n24, "+24 V input": n24,
	Point5: n5, "+5 V logic": n5,
	Point12: n12, "+12 V audio": n12,
	PointMinus12: nm12, "-12 V audio": nm12,
	Point3: n3, "+3.3 V DSP": n3,
	PointPS2: nPin, PointStandInOut: nOut, PointStandInIn: nIn,
}

// Points lists the points for a multimeter's probe, without the rails' names.
func Points() []string {
	return []string{PointReturn, PointShorted, Point24, Point5, Point12, PointMinus12, Point3, PointPS2, PointStandInOut, PointStandInIn}
}
