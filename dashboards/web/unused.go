package web

import "steadyrail/capture"

// Unused tells in short what does not count in an isolation.
func (v *view) Unused(g capture.UnusedGroup) string { return g.Text(v.zone) }

// Shortened reports whether anything was told in short that can be told whole.
func (v *view) Shortened() bool {
	f := v.Isolating.Search
	return f != nil && len(f.Unused) > len(f.UnusedBy)
}
