package capture

import "math"

// ActCaution says that a caution was read. Subject is its [Caution.Key].
const ActCaution Verb = "caution read"

// Caution stands beside the work, once a job, until somebody has read it.
type Caution struct {
	Key    string  `json:"key"`
	Say    string  `json:"say"`
	Law    string  `json:"law"` // what governs the work, the same for all
	Stages []Stage `json:"stages"`
}

// hazards names them in few words.
var hazards = map[string]string{
	CautionMains: "mains side", CautionCapacitors: "charged capacitors", CautionHeat: "hot iron",
	CautionInject: "injected current", CautionIsolation: "earth through a meter",
}

// Name names the hazard in few words.
func (c Caution) Name() string { return hazards[c.Key] }

// law defers to who is competent: steadyrail permits nothing.
const law = "Local codes and licensed practice govern this work."

// hazardous is the direct voltage above which a rail counts as hazardous live
// (IEC 60950-1, 2.1.1.7).
const hazardous = 60.0

// Keys of the cautions.
const (
	CautionMains      = "mains"
	CautionCapacitors = "capacitors"
	CautionHeat       = "heat"
	CautionInject     = "inject"
	CautionIsolation  = "isolation"
)

// cautions is the table of all, in the order in which they are said.
var cautions = []Caution{
	{CautionMains, "The mains side can kill, and stays charged when the plug is out: isolating transformer, one hand, leads of the right category.", law, []Stage{TakeIn, ColdChecks, Isolate, LiveChecks}},
	{CautionCapacitors, "Capacitors keep their charge: empty them through a resistor and measure with a proved meter, before ohms and before hands.", law, []Stage{TakeIn, ColdChecks, Isolate}},
	{CautionHeat, "The iron is earthed, and burns: power off and discharged before it touches the board, fumes away from the face.", law, []Stage{Isolate, StandIn}},
	{CautionInject, "Injected current heats the weakest part of its way: at most 0.5 V, the smallest rating as limit, the set without power of its own.", law, []Stage{Isolate}},
	{CautionIsolation, "A meter with a port ties its low lead to earth unless it is rated isolated: all such leads on one node, never on the mains side.", law, []Stage{LiveChecks}},
}

// Cautions lists all cautions.
func Cautions() []Caution { return append([]Caution(nil), cautions...) }

// CautionsDue lists what is to be said in a stage and was not read in this job.
// That of the mains side needs a rail that is on it, or hazardous live.
func CautionsDue(stage Stage, rails []Rail, read func(key string) bool) []Caution {
	var out []Caution
	for _, c := range cautions {
		if c.in(stage) && !read(c.Key) && (c.Key != CautionMains || anyHazardous(rails)) {
			out = append(out, c)
		}
	}
	return out
}

func (c Caution) in(stage Stage) bool {
	for _, s := range c.Stages {
		if s == stage {
			return true
		}
	}
	return false
}

func anyHazardous(rails []Rail) bool {
	for _, r := range rails {
		if r.Side == Mains || math.Abs(r.Nominal) > hazardous {
			return true
		}
	}
	return false
}
