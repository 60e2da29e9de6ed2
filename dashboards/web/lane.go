package web

import (
	"html/template"
	"net/url"
	"strings"

	"steadyrail/capture"
	"steadyrail/capture/live"
	"steadyrail/dashboards/chart"
)

// lane is a rail on the Bench page, and the head of its own page.
type lane struct {
	Name   string
	Link   string
	Who    string // point, channel and pace
	Tone   tone
	Number *numeral // nil: words take the large place
	Gone   string   // the words, when there is no number
	Band   *band    // nil: no voltage to place
	Word   string
	More   string
	Age    string
	Late   bool
	Trace  template.HTML
	last   *live.Last
}

// lane judges a rail for the screen.
func (v *view) lane(rv live.RailView) lane {
	l := lane{Name: rv.Rail.Name, Link: v.railLink(rv.Rail.Name)}
	switch {
	case (v.snap.Present(rv.Ohms) || byEye(rv.Ohms)) && newer(rv.Ohms, rv.Volts):
		v.ohmsLane(&l, rv)
	case v.snap.Present(rv.Volts) || byEye(rv.Volts) && !newer(rv.Ohms, rv.Volts):
		v.voltsLane(&l, rv)
	case newer(rv.Ohms, rv.Volts) && rv.Ohms.Reading.Flags.Has(capture.OverRange) && (rv.Live || rv.Ohms.Reading.Flags.Has(capture.ByEye)):
		v.openLane(&l, rv)
	default:
		v.silentLane(&l, rv)
	}
	l.Who = v.who(rv, l.last)
	if len(rv.Trace) > 0 {
		l.Trace = trace(rv, v.snap.Now)
	}
	return l
}

// byEye reports whether a value was read by eye. Nobody reads it again by
// himself: it stays shown, with its age, until something newer comes.
func byEye(l *live.Last) bool {
	return l != nil && l.Reading.HasValue() && l.Reading.Flags.Has(capture.ByEye)
}

// newer reports whether a is there and younger than b.
func newer(a, b *live.Last) bool { return a != nil && (b == nil || a.At > b.At) }

func (v *view) voltsLane(l *lane, rv live.RailView) {
	r := rv.Volts.Reading
	u := uncertaintyOf(rv)
	l.last, l.Tone = rv.Volts, judge(rv.Rail, r.Value, u)
	l.Word, l.More = verdictWords(rv.Rail, l.Tone, r.Value, u, r.Resolution)
	if !r.Good() {
		l.Tone, l.Word, l.More = doubt, "Cannot tell", flagWords(r.Flags)
	} else if say, ok := failing(rv, "missing"); ok && l.Tone.Bad() {
		_, l.More = splitSay(say)
	} else if words := flagWords(r.Flags); words != "" {
		l.More += ", " + words
	}
	if why := v.unfed(rv); why != "" && l.Tone == low {
		l.Tone, l.Word, l.More = nowhere, "Without power", "not judged: "+why
	}
	n := voltNumeral(r.Value, r.Resolution, spread(rv.Trace))
	l.Number = &n
	b := drawBand(rv.Rail, l.Tone, r.Value, u, n.Spoken+", "+l.Word+", "+bounds(rv.Rail, r.Resolution))
	l.Band = &b
	l.Age = ageText(v.snap.Age(rv.Volts)) + " ago"
}

func (v *view) ohmsLane(l *lane, rv live.RailView) {
	r, leads := judgedOhms(rv)
	l.last, l.Tone = rv.Ohms, nowhere
	n := textNumeral(capture.Ohm, r.Value, r.Resolution)
	l.Number = &n
	l.Word, l.More = "No short", "short below "+plainOhms(rv.Rail.ShortBelow)
	for _, ver := range rv.Verdicts {
		if ver.Kind != "short" {
			continue
		}
		switch ver.Outcome {
		case capture.Fail:
			l.Tone, l.Word = low, "Short"
		case capture.ConditionalFail, capture.ConditionalPass:
			l.Tone, l.Word, l.More = doubt, "Cannot tell", doubtful(ver)
		case capture.NoData:
			l.Word, l.More = "Not judged yet", afterColon(ver.Say)
			if ver.Held.Since != 0 {
				l.Word, l.More = "Not judged now", ver.Held.Text(v.zone)
			}
		}
	}
	l.More = joined(l.More, leads)
	l.Age = ageText(v.snap.Age(rv.Ohms)) + " ago"
}

// doubtful says why a resistance decides nothing, with the uncertainty that it hangs
// on.
func doubtful(ver capture.Verdict) string {
	if news, _, near := strings.Cut(ver.Say, ": cannot tell, "); near {
		return news + ", " + strings.TrimPrefix(ver.Say, news+": cannot tell, ")
	}
	return afterColon(ver.Say)
}

// openLane is a resistance above the meter's range: an answer, not silence.
func (v *view) openLane(l *lane, rv live.RailView) {
	l.last, l.Tone, l.Gone, l.Word = rv.Ohms, nowhere, "Above the range", "No short seen"
	l.More, l.Age = "open, or a lead is off", ageText(v.snap.Age(rv.Ohms))+" ago"
}

// silentLane says why there is no number: nothing stands on the rail, or what
// stands there does not answer.
func (v *view) silentLane(l *lane, rv live.RailView) {
	l.Tone, l.Gone, l.Word, l.Late = silent, "No reading", "No reading", true
	last := rv.Volts
	if newer(rv.Ohms, rv.Volts) {
		last = rv.Ohms
	}
	if last != nil && last.Reading.HasValue() {
		l.last, l.More = last, "last "+valueText(last.Reading)+", "+v.when(last.At)
		if last.Reading.Flags.Has(capture.Typed | capture.ByEye) {
			l.More += ", " + flagWords(last.Reading.Flags)
		}
		if last == rv.Volts {
			b := drawBand(rv.Rail, silent, last.Reading.Value, 0, "No reading; the last one was "+valueText(last.Reading))
			l.Band = &b
		}
	}
	if l.Band == nil {
		l.Band = &band{Tone: silent, At: 50, Size: 30, Label: "No reading"}
	}
	switch {
	case !rv.Live:
		l.Tone, l.Word, l.Late = nowhere, "Not measured", false
		l.Age = "no probe on it"
		l.Band.Tone = nowhere
		v.judgedCold(l, rv)
	case last == nil:
		l.Age = "waiting for the first"
	case !last.Reading.HasValue():
		l.Age = flagWords(last.Reading.Flags)
	default:
		l.Word = "Silent " + ageText(v.snap.Age(last))
		l.Age = v.guess(last.Reading.Channel)
	}
}

// judgedCold tells of a rail with no probe on it what its ohms were found to be
// without power, and how long ago.
func (v *view) judgedCold(l *lane, rv live.RailView) {
	for _, ver := range rv.Verdicts {
		if held := ver.Held; ver.Kind == "short" && held.At != 0 {
			l.Word, l.More = "Judged cold", glue(held.Text(v.zone))
			l.Age = "no probe on it, judged " + ageText(v.snap.Now.Sub(held.At)) + " ago"
		}
	}
}

// guess asks what may be wrong with a channel that says nothing.
func (v *view) guess(ch capture.ChannelID) string {
	in, known := v.snap.Instrument(ch.Instrument())
	c, _ := v.snap.Channel(ch)
	switch {
	case known && in.Problem != "":
		return in.Problem
	case known && !in.Up:
		return ch.Instrument() + " does not answer"
	case c.Last != nil && flagWords(c.Last.Reading.Flags&capture.NoValue) != "":
		return flagWords(c.Last.Reading.Flags & capture.NoValue)
	}
	return ch.Instrument() + " asleep?"
}

// who says where the reading shown comes from. It may be another channel's than
// the one that stands on the rail now: then both are named, and only what is
// known of the reading's own is said of it.
func (v *view) who(rv live.RailView, shown *live.Last) string {
	var parts []string
	point := rv.Rail.Point
	if rv.Live && rv.Placement.Point != "" {
		point = rv.Placement.Point
	}
	if point != "" {
		parts = append(parts, point)
	}
	from := rv.Placement.Channel
	if shown != nil && shown.Reading.Channel != "" {
		from = shown.Reading.Channel
	}
	switch {
	case !rv.Live && (shown == nil || shown.Reading.Channel == ""):
		return strings.Join(parts, ", ")
	case !rv.Live:
		return strings.Join(append(parts, from.Instrument()), ", ")
	case from != rv.Placement.Channel:
		now := source(rv.Placement.Channel, from)
		if point != "" {
			now += " at " + point
		}
		return source(from, rv.Placement.Channel) + v.pace(from) + "; on it now: " + now
	}
	parts = append(parts, from.Instrument()+v.pace(from))
	if rv.Placement.Hold == capture.Touched {
		parts = append(parts, "by hand")
	}
	return strings.Join(parts, ", ")
}

// source names a channel as short as tells it from another.
func source(ch, other capture.ChannelID) string {
	if ch.Instrument() == other.Instrument() {
		return channelWords(ch)
	}
	return ch.Instrument()
}

// pace says how often a channel reads.
func (v *view) pace(ch capture.ChannelID) string {
	if c, ok := v.snap.Channel(ch); ok && c.Info.Every > 0 {
		return ", every" + nbsp + spanShort(c.Info.Every)
	}
	return ""
}

// uncertaintyOf returns the expanded uncertainty that the newest verdict about
// the band states for the channel in use; 0 when none is stated.
func uncertaintyOf(rv live.RailView) float64 {
	for _, ver := range rv.Verdicts {
		if ver.Uncertainty > 0 && ver.Unit == "V" && rv.Volts != nil && (ver.Channel == "" || ver.Channel == rv.Volts.Reading.Channel) {
			return ver.Uncertainty
		}
	}
	return 0
}

func failing(rv live.RailView, kind string) (string, bool) {
	for _, ver := range rv.Verdicts {
		if ver.Kind == kind && ver.Outcome == capture.Fail {
			return ver.Say, true
		}
	}
	return "", false
}

func afterColon(say string) string {
	news, proof := splitSay(say)
	if proof != "" {
		return proof
	}
	return news
}

// valueText prints a reading with its unit; volts stay volts.
func valueText(r capture.Reading) string {
	if !r.HasValue() {
		return flagWords(r.Flags)
	}
	if u := r.Quantity.Unit(); u == capture.Volt || u == capture.Celsius {
		return withUnit(capture.Figure(r.Value, r.Resolution), u.Symbol())
	}
	return strings.ReplaceAll(r.Quantity.Unit().Text(r.Value, r.Resolution), " ", nbsp)
}

func plainOhms(v float64) string {
	res := 1.0
	if v < 10 {
		res = 0.1
	}
	return strings.ReplaceAll(capture.Ohm.Text(v, res), " ", nbsp)
}

// bounds says a band in words, open sides too.
func bounds(r capture.Rail, resolution float64) string {
	fig := func(v float64) string { return capture.Figure(v, resolution) }
	switch b := r.Bounds; {
	case b.HasLow() && b.HasHigh():
		return withUnit(fig(b.Low)+" to "+fig(b.High), "V")
	case b.HasLow():
		return withUnit(fig(b.Low), "V") + " or more"
	case b.HasHigh():
		return withUnit(fig(b.High), "V") + " or less"
	}
	return "no band declared"
}

func (v *view) railLink(name string) string { return "/rail/" + url.PathEscape(name) + v.Query() }

func trace(rv live.RailView, now capture.Instant) template.HTML {
	var b strings.Builder
	_ = chart.Trace(&b, chart.TraceModel{Rail: rv.Rail, Series: rv.Trace, From: now.Add(-traceSpan), To: now})
	return template.HTML(b.String()) // chart escapes all text
}
