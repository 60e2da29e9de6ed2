package capture

// ActWalk is the act of a walk from rail to rail. Text is [WalkBegin] or
// [WalkEnd] with the reason, Subject the meter; or Subject is the rail of a step
// that was left out, and Text says in what and why. What was measured stands in
// readings and placements.
const ActWalk Verb = "walk"

// The texts of a walk's first and last act; behind the end a reason may stand.
const (
	WalkBegin = "begun"
	WalkEnd   = "ended"
)
