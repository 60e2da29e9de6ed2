package cli

import (
	"maps"
	"strings"
	"testing"
)

func TestSamplesOfAMetricsPage(t *testing.T) {
	got := samples(strings.NewReader(`# HELP steadyrail_workspace_free_bytes What the disk of the workspace still takes.
# TYPE steadyrail_workspace_free_bytes gauge
steadyrail_workspace_free_bytes 1.2e+10
steadyrail_store_bytes{job="AB 1"} 4096
steadyrail_nothing
steadyrail_words many
`))
	if want := map[string]float64{"steadyrail_workspace_free_bytes": 1.2e10}; !maps.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}
