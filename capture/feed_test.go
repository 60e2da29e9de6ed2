package capture

import "testing"

// What feeds a rail stands at the head of the chain on the sheet; the mains is no
// output, and of anything else nobody knows.
func TestFeeds(t *testing.T) {
	sheet := Sheet{Rails: []Rail{
		{Name: "+12 V audio", FedFrom: "supply/1"},
		{Name: "+5 V logic", FedFrom: "+12 V audio"},
		{Name: "reservoir", Side: Mains},
		{Name: "-12 V audio", FedFrom: "reservoir"},
		{Name: "one", FedFrom: "other"}, {Name: "other", FedFrom: "one"},
	}}
	for _, c := range []struct {
		from, output string
		feeds, said  bool
	}{
		{"supply", "supply", true, true},
		{"supply", "supply/2", true, true},
		{"supply/1", "supply", true, true},
		{"+5 V logic", "supply/1", true, true},
		{"+5 V logic", "supply/2", false, true},
		{"aux", "supply", false, true},
		{"mains", "supply", false, true},
		{"Mains, transformer T1", "supply", false, true},
		{"230 V mains", "supply", false, true},
		{"-12 V audio", "supply", false, true},
		{"mainstage", "supply", true, false},
		{"J1", "supply", true, false},
		{"", "supply", true, false},
		{"one", "supply", true, false},
	} {
		feeds, said := sheet.Feeds(c.output, Rail{Name: "here", FedFrom: c.from}, func(name string) bool { return name == "supply" || name == "aux" })
		if feeds != c.feeds || said != c.said {
			t.Errorf("%s of what is fed from %q: %v, said %v", c.output, c.from, feeds, said)
		}
	}
}
