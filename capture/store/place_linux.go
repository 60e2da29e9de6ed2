package store

import "golang.org/x/sys/unix"

// networkFileSystem names the kind of file system that dir lies on when it is
// one that other machines or programs take part in, and "" otherwise.
// The magic numbers are those of statfs(2); uint32, for the field's type
// differs between processors.
func networkFileSystem(dir string) string {
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		return ""
	}
	return fileSystemName(uint32(st.Type))
}

func fileSystemName(magic uint32) string {
	switch magic {
	case 0x6969:
		return "a network file system (NFS)"
	case 0xFF534D42, 0xFE534D42, 0x517B:
		return "a network file system (SMB)"
	case 0x5346414F, 0x6B414653:
		return "a network file system (AFS)"
	case 0x73757245:
		return "a network file system (Coda)"
	case 0x00C36400:
		return "a network file system (Ceph)"
	case 0x01021997:
		return "a folder shared with another system (9P)"
	case 0x65735546:
		return "a file system served by a program (FUSE)"
	}
	return ""
}
