package uncertainty

import "math"

// studentExpansion is Abramowitz and Stegun 26.7.5, to the third term: beyond
// 20 degrees and at 95 % good to 0.0001.
func studentExpansion(z, degrees float64) float64 {
	z2 := float64(z * z)
	t1 := float64(z*(z2+1)) / 4
	t2 := float64(z*(float64((float64(5*z2)+16)*z2)+3)) / 96
	t3 := float64(z*(float64((float64((float64(3*z2)+19)*z2)+17)*z2)-15)) / 384
	return z + (t1+(t2+t3/degrees)/degrees)/degrees
}

// fewDegrees are the factors for 95.45 % and 1 to 19 degrees of freedom (GUM,
// table G.2). Written out, for an outcome hangs on them and the last digit of a
// sine depends on the processor.
var fewDegrees = [...]float64{
	13.97, 4.53, 3.31, 2.87, 2.65, 2.52, 2.43, 2.37, 2.32, 2.28, 2.25, 2.23, 2.21, 2.20, 2.18, 2.17, 2.16, 2.15, 2.14,
}

// CoverageFactor is k for 95.45 %: 2 where the uncertainty is well known, more
// where it rests on the scatter of a few readings. Degrees are truncated (GUM
// G.4.1); the same on every processor.
func CoverageFactor(degrees float64) float64 {
	switch {
	case math.IsInf(degrees, 1):
		return 2
	case degrees >= float64(len(fewDegrees)+1):
		return studentExpansion(2, degrees)
	}
	return fewDegrees[max(0, int(degrees)-1)]
}
