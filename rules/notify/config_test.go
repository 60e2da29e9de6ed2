package notify

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Every wrong combination is said with the key it is about.
func TestWrongCombinations(t *testing.T) {
	open := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(open, []byte("x\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	mail := func(with func(*Config)) Config {
		c := Config{Kind: "email", Server: "mail.example:587", From: "bench@shop.example", To: []string{"shop@shop.example"}}
		with(&c)
		return c
	}
	hook := func(with func(*Config)) Config {
		c := Config{Kind: "webhook", URL: "http://127.0.0.1:9999"}
		with(&c)
		return c
	}
	for want, c := range map[string]Config{
		"server: a notifier of kind webhook": hook(func(c *Config) { c.Server = "x:1" }),
		"argv: a notifier of kind webhook":   hook(func(c *Config) { c.Argv = []string{"/bin/true"} }),
		"body_file: give body or body_file":  hook(func(c *Config) { c.Body, c.BodyFile = "x", "y" }),
		"body: what the template makes":      hook(func(c *Config) { c.Body = `{"text": {{.Sentence}}}` }),
		"content_type: without a body":       hook(func(c *Config) { c.ContentType = "text/plain" }),
		"content_type: \"text;;\" is no":     hook(func(c *Config) { c.Body, c.ContentType = "x", "text;;" }),
		"url: an Alertmanager needs":         {Kind: "alertmanager"},
		"url: leave /api/v2/alerts out":      {Kind: "alertmanager", URL: "http://127.0.0.1:9093/api/v2/alerts"},
		"resend: 1ms is not":                 {Kind: "alertmanager", URL: "http://127.0.0.1:9093", Resend: 1e6},
		"body: a notifier of kind alertm":    {Kind: "alertmanager", URL: "http://127.0.0.1:9093", Body: "x"},
		"server: an e-mail needs":            mail(func(c *Config) { c.Server = "" }),
		"server: \"mail.example\" is not":    mail(func(c *Config) { c.Server = "mail.example" }),
		"tls: without TLS":                   mail(func(c *Config) { c.TLS = "none" }),
		"tls: \"ssl\" is not known":          mail(func(c *Config) { c.TLS = "ssl" }),
		"from: \"bench\" is no address":      mail(func(c *Config) { c.From = "bench" }),
		"to: \"shop\\r\\n\" is no address":   mail(func(c *Config) { c.To = []string{"shop\r\n"} }),
		"to: list who gets":                  mail(func(c *Config) { c.To = nil }),
		"to: shop@shop.example stands twice": mail(func(c *Config) { c.To = append(c.To, "Shop <shop@shop.example>") }),
		"user: a password needs":             mail(func(c *Config) { c.PasswordFile = open }),
		"user: a user needs":                 mail(func(c *Config) { c.User = "bench" }),
		"password_env: give password_file":   mail(func(c *Config) { c.User, c.PasswordFile, c.PasswordEnv = "bench", open, "X" }),
		"password_env: the environment has":  mail(func(c *Config) { c.User, c.PasswordEnv = "bench", "STEADYRAIL_NOT_SET" }),
		"password_file: stat":                mail(func(c *Config) { c.User, c.PasswordFile = "bench", open+"s" }),
		"ca_file: open":                      mail(func(c *Config) { c.CAFile = open + "s" }),
		"ca_file: " + open + " holds no":     mail(func(c *Config) { c.CAFile = open }),
		"subject: line:1":                    mail(func(c *Config) { c.Subject = "{{.Rails}}" }),
		"argv: a command needs":              {Kind: "command"},
		"argv: there is no program":          {Kind: "command", Argv: []string{"no-such-program-here"}},
		"argv: ./tell depends on":            {Kind: "command", Argv: []string{"./tell"}},
		"argv: an argument holds":            {Kind: "command", Argv: []string{"go", "a\nb"}},
		"url: a notifier of kind terminal":   {Kind: "terminal", URL: "http://x"},
		"group_within: messages":             {Kind: "terminal", GroupAfter: -1},
	} {
		if err := c.Validate(); err == nil || !strings.Contains("\n"+err.Error(), "\n"+want) {
			t.Errorf("want %s\ngot  %v", want, err)
		}
	}
}
