//go:build !linux

package wire

func howToGetIn(string) string { return "ask the administrator of this computer for access" }

// addRights: neither holders nor rights can be told without opening.
func addRights([]Port) {}

// occupier cannot be told on this system.
func occupier(string) string { return "" }

// holder cannot be told on this system.
func holder(string) string { return "" }

// unseen: nothing can be said of it on this system.
func unseen(string) string { return "" }

// HoldersHidden: holders cannot be told on this system, of nobody.
func HoldersHidden() bool { return false }
