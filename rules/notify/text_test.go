package notify

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestTemplates(t *testing.T) {
	text, err := ParseText("line", `{{.Severity}} {{.Rail}}{{range .Group}}, {{.Rail}}{{end}}: {{json .Sentence}}{{if .Test}} TEST{{end}}`, nil)
	if err != nil {
		t.Fatal(err)
	}
	m := message(1)
	m.Alarm.Say = `say "<&>"`
	for _, c := range []struct {
		m    Message
		want string
	}{
		{m, `urgent +5 V logic: "say \"\u003c\u0026\u003e\""`},
		{grouped([]Message{message(1), message(2)}), `urgent +5 V logic, +5 V logic, +5 V logic: "2 alarms in 1 s: +5 V logic collapsed: from 5.011 V to 3.087 V; +5 V logic collapsed: from 5.011 V to 3.087 V"`},
		{TestMessage("east", 1, nil), `notice : "Test from bench east: nothing has happened, messages arrive here." TEST`},
	} {
		if got, err := text.Of(c.m); err != nil || got != c.want {
			t.Errorf("got %s, %v\nwant %s", got, err, c.want)
		}
	}
}

func TestTemplateMistakes(t *testing.T) {
	for text, want := range map[string]string{
		"one\ntwo {{.Rails}}":                  "line:2",
		"{{.Rail":                              "line:1",
		"{{shout .Rail}}":                      `function "shout" not defined`,
		"{{if not .Active}}{{.Ended}}{{end}}":  "line:1",
		"{{range .Group}}{{.Nothing}}{{end}}":  "line:1",
		"{{range 1000000}}0123456789{{end}}":   "KiB of one message",
		strings.Repeat("x", longestTemplate+1): "a template may be",
	} {
		if _, err := ParseText("line", text, nil); err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "template: ") {
			t.Errorf("%.40q: %v", text, err)
		}
	}
}

// The mistake of a template in a file is found by file and line.
func TestTemplateFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "body.tmpl")
	if err := os.WriteFile(file, []byte("{\n\"text\": {{json .Sentence}},\n\"rail\": {{json .Rial}}}"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := Config{Kind: "webhook", URL: "http://127.0.0.1:9999", BodyFile: file}
	if err := c.Validate(); err == nil || !strings.HasPrefix(err.Error(), "body_file: "+file+":3:") {
		t.Errorf("said %v", err)
	}
	if err := os.WriteFile(file, []byte(`{"text": {{json .Sentence}}}`), 0o600); err != nil {
		t.Fatal(err)
	}
	r := newReceiver(t)
	c.URL = r.URL
	n, err := c.Open(Env{})
	if err != nil {
		t.Fatal(err)
	}
	defer n.(*chosen).Close()
	if err := n.Notify(t.Context(), message(1)); err != nil || string(r.bodies[0]) != `{"text": "+5 V logic collapsed: from 5.011 V to 3.087 V"}` {
		t.Errorf("posted %s, %v", r.bodies[0], err)
	}
}
