//go:build !linux

package wire

func howToGetIn(string) string { return "ask the administrator of this computer for access" }

// holder cannot be told on this system.
func holder(string) string { return "" }
