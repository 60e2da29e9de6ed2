package capture

// ActHandover is the act of opening or closing a page for a phone, through which
// pictures come into the job. Subject is the address it is opened on, Text says what
// became of it: "open for 10 min", "closed, 3 files came by it".
const ActHandover Verb = "page for a phone"
