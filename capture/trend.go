package capture

import "time"

// Trend says how what a channel read of a rail moved over the watched span, in
// the base unit of the channel.
type Trend struct {
	Channel   ChannelID     `json:"channel"`
	From      Instant       `json:"from"`
	To        Instant       `json:"to"`
	N         int           `json:"n"`
	Effective float64       `json:"effective_n"` // readings that count as independent in a mean
	Longer    bool          `json:"longer"`      // readings hang together for longer than was looked at: Effective is too great
	Mean      float64       `json:"mean"`
	SD        float64       `json:"sd"` // of single readings
	Median    float64       `json:"median"`
	Low       float64       `json:"low"`           // 5 % of the readings lie below
	High      float64       `json:"high"`          // 5 % lie above
	RankError float64       `json:"rank_error"`    // share of the ranks that these three may be off by
	Blocks    int           `json:"blocks"`        // whose medians the rest rests on; 0: watched too short
	Block     time.Duration `json:"block"`         // length of each
	Slope     float64       `json:"slope"`         // for each hour
	SlopeLow  float64       `json:"slope_low"`     // its interval of 95 %
	SlopeHigh float64       `json:"slope_high"`    //
	Why       string        `json:"why,omitempty"` // why the interval may be too narrow; empty: it may be believed
	Tau       float64       `json:"tau"`           // Kendall's tau-b of block and time
	P         float64       `json:"p"`             // that chance alone does as much, two-sided
	Curve     []Steadiness  `json:"curve,omitempty"`
	Cusum     Instant       `json:"cusum,omitempty"` // when the CUSUM of the blocks first left its limit; 0: it did not
	Ewma      Instant       `json:"ewma,omitempty"`  // likewise, their weighted moving average
	Say       []string      `json:"say"`             // what it comes to, in sentences
}

// Steadiness is how much means over a time differ from one to the next.
type Steadiness struct {
	Over      time.Duration `json:"over"`
	Deviation float64       `json:"deviation"` // Allan deviation, overlapping
	Terms     int           `json:"terms"`     // differences that it rests on
}
