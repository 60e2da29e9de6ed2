package store

import "testing"

// Magic numbers after statfs(2), Linux man-pages.
func TestFileSystemNames(t *testing.T) {
	for _, magic := range []uint32{0x6969, 0xFF534D42, 0xFE534D42, 0x517B, 0x65735546, 0x01021997} {
		if fileSystemName(magic) == "" {
			t.Errorf("%#x has no name", magic)
		}
	}
	for _, magic := range []uint32{0xEF53 /* ext4 */, 0x01021994 /* tmpfs */, 0x9123683E /* btrfs */, 0x58465342 /* xfs */, 0x794C7630 /* overlay */} {
		if name := fileSystemName(magic); name != "" {
			t.Errorf("%#x is %s", magic, name)
		}
	}
}
