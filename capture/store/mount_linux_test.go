package store

import "golang.org/x/sys/unix"

func mountSmall(dir string) error { return unix.Mount("tmpfs", dir, "tmpfs", 0, "size=8m") }
func unmount(dir string) error    { return unix.Unmount(dir, unix.MNT_DETACH) }
