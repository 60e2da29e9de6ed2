//go:build !(linux && !ppc64 && !ppc64le) && !darwin

package wire

// settings can be neither made nor read back beside the library here.
type settings struct{}

func openSettings(string) (settings, error) { return settings{}, nil }

func (settings) close() {}

func (settings) before(l Line) string {
	if l.Handshake != "none" && l.Handshake != "" {
		return "the handshake " + l.Handshake + " (steadyrail sets it on Linux and macOS only: switch it off at the instrument)"
	}
	return ""
}

func (settings) apply(Line) ([]string, error) { return nil, nil }

func (settings) lines(Line) string { return "" }

func (settings) levels(Line) string { return "" }
