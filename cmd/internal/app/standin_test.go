package app_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
	"steadyrail/dashboards/web"
	"steadyrail/rules/standin"
)

// The example file is judged as the command line judges it, and the answer is
// JSON with nothing lost.
func TestStandInsOfAText(t *testing.T) {
	path := filepath.Join("..", "..", "..", "configs", "standin.yaml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	list, err := app.JudgeStandIns(text)
	if err != nil {
		t.Fatal(err)
	}
	file, _ := configs.LoadStandIn(path)
	if len(list) != len(file.Candidates) {
		t.Fatalf("%d of %d candidates were judged", len(list), len(file.Candidates))
	}
	for i, c := range file.Candidates {
		want, err := json.Marshal(standin.Judge(file.Need, c))
		if err != nil {
			t.Fatal(err)
		}
		if got := asJSON(t, list[i]); got != string(want) {
			t.Errorf("%s:\n got %s\nwant %s", c.Name, got, want)
		}
	}
	if _, err := app.JudgeStandIns([]byte(`{"rail": "+5 2%", "nede": {}}`)); err == nil {
		t.Error("a misspelt key was passed over")
	}
}

func asJSON(t *testing.T, v web.StandIn) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
