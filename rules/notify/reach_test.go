package notify

import (
	"net"
	"net/url"
	"testing"
)

// A receiver is there or it is not, and is told nothing by being looked for.
func TestReach(t *testing.T) {
	there, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer there.Close()
	gone, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	gone.Close()
	for name, c := range map[string]struct {
		c    Config
		well bool
	}{
		"a webhook":              {Config{Kind: "webhook", URL: "http://" + there.Addr().String() + "/hook"}, true},
		"a webhook that is gone": {Config{Kind: "webhook", URL: "http://" + gone.Addr().String() + "/hook"}, false},
		"a mail server":          {Config{Kind: "email", Server: there.Addr().String()}, true},
		"one that is gone":       {Config{Kind: "email", Server: gone.Addr().String()}, false},
		"no program":             {Config{Kind: "command", Argv: []string{"no-such-program-anywhere"}}, false},
		"no argument":            {Config{Kind: "command"}, false},
		"the terminal":           {Config{Kind: "terminal"}, true},
	} {
		if err := c.c.Reach(t.Context()); (err == nil) != c.well {
			t.Errorf("%s: %v", name, err)
		}
	}
	for in, want := range map[string]string{"http://a/b": "a:80", "https://a/b": "a:443", "https://a:9/b": "a:9", "http://[::1]/": "[::1]:80"} {
		u, err := url.Parse(in)
		if err != nil {
			t.Fatal(err)
		}
		if got := hostPort(u); got != want {
			t.Errorf("%s: %s", in, got)
		}
	}
}

func TestLabelsAreTheNamesOfOpenOnes(t *testing.T) {
	for _, c := range []Config{
		{Kind: "webhook", URL: "http://127.0.0.1:9/secret"}, {Kind: "alertmanager", URL: "http://127.0.0.1:9"}, {Kind: "terminal"},
		{Kind: "command", Argv: []string{"/bin/true"}}, {Kind: "email", Server: "127.0.0.1:25", TLS: "none", From: "a@b.example", To: []string{"c@b.example"}},
		{Kind: "webhook", Name: "desk", URL: "http://127.0.0.1:9/x"},
	} {
		n, err := c.Open(Env{})
		if err != nil {
			t.Fatal(err)
		}
		if c.Label() != n.Name() {
			t.Errorf("%q is called %q", c.Label(), n.Name())
		}
	}
}
