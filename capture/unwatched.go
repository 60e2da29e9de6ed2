package capture

import "strings"

// notWatched stands in the news of an alarm that ended because its rail is not watched
// any more: nobody measured that the fault has gone.
const notWatched = "Watching stopped, the fault need not have gone: "

// Unwatched is the news of an alarm that ended so: what was told last, and why nothing
// watches.
func Unwatched(said, rail, why string) string {
	if said == "" {
		said = rail
	}
	return said + ". " + notWatched + why
}

// UnwatchedIn reports whether news say that an alarm ended because nothing watches any
// more, and why.
func UnwatchedIn(say string) (why string, ok bool) {
	_, why, ok = strings.Cut(say, notWatched)
	return why, ok
}
