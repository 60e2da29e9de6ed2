//go:build !unix

package paper

// syncDir does nothing: folders cannot be synchronised here.
func syncDir(string) error { return nil }
