package story_test

import (
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var told = regexp.MustCompile(`after +(\d+) min: `)

// minutesRise holds the soak to one count of minutes: what happens in its middle
// does not start it anew. A story that came to its end in the time that it was given
// has several; one on a computer that was too busy may have had none left for them.
func minutesRise(t *testing.T, story string, inTime bool) {
	t.Helper()
	_, soak, ok := strings.Cut(story, "Soak of ")
	rows := told.FindAllStringSubmatch(soak, -1)
	if !ok || inTime && len(rows) < 2 {
		t.Errorf("%d rows of the soak were told", len(rows))
	}
	last := -1
	for _, row := range rows {
		n, err := strconv.Atoi(row[1])
		if err != nil || n < last {
			t.Errorf("after %s min comes behind after %d min", row[1], last)
		}
		last = n
	}
}
