package powercut

// known are the faults of the store that these tests have found and that are
// not mended yet. With an entry set to false the tests demand the right thing.
var known = struct {
	// A new job's file is filled under the name with ".new" and then renamed.
	// When a write fails while closing carries the log over, closing says nothing,
	// and the rename leaves the log behind under the old name: the file is ruined.
	createLosesItsLog bool
	// Records fails before it yields what lies before a damaged record, when both
	// are read in one slice.
	recordsStopEarly bool
	// Verify gives commit 0 and no times for a commit that cannot be decoded and
	// for a page that is ruined; and times that run backwards when it is the end of
	// a commit that was damaged.
	verifyNamesNone bool
	// Verify accepts a file in which the job's name, which every record carries
	// when it is read, has changed.
	nameIsNotVerified bool
}{true, true, true, true}
