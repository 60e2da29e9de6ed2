// Package powercut holds the tests in which the ground is taken away under the
// record: power cuts, a disk that refuses, a disk that is full, bytes that
// change by themselves, and kill -9. It has no code of its own outside its
// tests, and it knows the store only as its callers know it.
//
// A disk of ours (disk_linux_test.go) is mounted with FUSE. It keeps apart what
// programs see and what was synced, and from that it makes what a power cut may
// leave (survive_linux_test.go), as harsh as POSIX allows:
//
//   - A write is safe after fsync of its file, a name after fsync of its
//     folder, and nothing else makes either safe. What is not safe may be
//     there, may be missing, may have overtaken what came before it, may be torn
//     at a sector of 512 bytes or at any byte. A file that grew may hold noise.
//   - A sync of a file that fails leaves on the disk whatever had got there, and
//     what had not is forgotten: a later sync that succeeds does not bring it
//     back. The names of a folder wait for its next sync.
//   - A write that fails has changed the first half of its bytes.
//
// The program under test runs in a process of its own, and the disk in the
// test's: a process that touches mapped memory of a file system which it serves
// itself can wait for itself for ever.
//
// The scale is small by default. STEADYRAIL_POWERCUTS=1000 sets the number of
// cuts, STEADYRAIL_KILLS=200 that of kills, STEADYRAIL_FLIPS=10000 that of
// changed bytes; STEADYRAIL_FAULTS=all makes every single operation fail,
// STEADYRAIL_DISKFULL=all lets every second of a full disk be tried, and
// STEADYRAIL_SEED chooses other chances.
package powercut
