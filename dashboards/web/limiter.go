package web

// Limited is what a limiter in series lets a set do.
type Limited struct {
	Word      string         `json:"word"` // fits, cannot tell
	Say       string         `json:"say"`
	MostOhm   float64        `json:"most_ohm"`   // ohm, above which there is no operating point
	MostWatts float64        `json:"most_watts"` // W that it lets through at most
	Cold      float64        `json:"cold_ohm"`
	Hot       float64        `json:"hot_ohm"`
	Points    []LimiterPoint `json:"points"` // none, or two: the first is stable
	Short     float64        `json:"short_watts"`
	ShortAmps float64        `json:"short_ampere"`
	Rows      [][2]string    `json:"rows"` // what is told of it: name and figure
	Basis     string         `json:"basis"`
	Cautions  []string       `json:"cautions"`
}

// LimiterPoint is where limiter and set meet.
type LimiterPoint struct {
	Set     float64 `json:"set"`     // V
	Ampere  float64 `json:"ampere"`  // A
	Limiter float64 `json:"limiter"` // W
	Stable  bool    `json:"stable"`
}

// LimiterAnswer is what was asked by the form, and what came of it.
type LimiterAnswer struct {
	Asked  map[string]string // by capture.LimiterKeys
	Answer *Limited          // nil: nothing was asked, or Wrong
	Wrong  string
}

// Mark and Class are as those of a check.
func (l Limited) Mark() string  { return StandInCheck{Word: l.Word}.Mark() }
func (l Limited) Class() string { return StandInCheck{Word: l.Word}.Class() }

// Field returns what stands in a field of the form.
func (a LimiterAnswer) Field(key string) string { return a.Asked[key] }

// Told is its sentence, with figures tied to their units.
func (l Limited) Told() string { return glue(l.Say) }
