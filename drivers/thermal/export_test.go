package thermal

// Estimate is the published inverse before it is refined.
func Estimate(tc Thermocouple, mv float64) float64 { return tc.estimate(mv) }
