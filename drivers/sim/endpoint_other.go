//go:build !linux && !darwin

package sim

// newEndpoint serves on TCP: there are no pseudo-terminals here.
func newEndpoint(dir, name string, tcp bool) endpoint { return &tcpPort{} }
