package dashboards_test

import (
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"steadyrail/capture"
	"steadyrail/dashboards"
)

func comma(o *dashboards.Options) { o.Decimal, o.Cold = capture.Comma, falling{} }

// aside is markup, programs, what people typed, and names: what must stay.
var (
	aside   = regexp.MustCompile(`(?s)<script.*?</script>|<style.*?</style>|<textarea.*?</textarea>|<p class="quote">.*?</p>|<[^>]*>`)
	pointed = regexp.MustCompile(`(?:^|[^\pL\d.,:/_])\d*\.\d+(?:[^\pL\d.:/]|$|[\x{00a0} ]?(?:V|A|Ω|s|%|°C))`)
)

// TestNoPointOnACommaBench: whatever page a person looks at, no figure on it has
// a point; names of rails keep theirs. The API keeps the point everywhere.
func TestNoPointOnACommaBench(t *testing.T) {
	for name, snap := range map[string]func() (out []string){
		"night": func() []string {
			return []string{"/", "/job", "/alarms", "/rules", "/standin", "/discharge?ohms=2.2k&farads=1000u&volts=325", "/rail/+5%20V%20logic"}
		},
		"trouble": func() []string {
			return []string{"/", "/job", "/alarms", "/rail/+3.3%20V%20DSP", "/rail/%E2%88%9212%20V%20audio"}
		},
	} {
		bench := night()
		if name == "trouble" {
			bench = trouble()
		}
		srv := serve(t, newFake(bench), comma)
		figures := 0
		for _, path := range snap() {
			_, page := call(t, srv, req{path: path})
			for _, text := range strings.Split(aside.ReplaceAllString(page, "\n"), "\n") {
				text = strings.ReplaceAll(html.UnescapeString(text), "\u00a0", " ")
				text = strings.NewReplacer("+3.3 V DSP", "", "IEC 61140", "").Replace(text)
				if found := pointed.FindString(text); found != "" {
					t.Errorf("%s%s has a figure with a point: %q in %q", name, path, found, text)
				}
				figures += strings.Count(text, ",")
			}
		}
		if figures < 20 {
			t.Errorf("%s: only %d commas: nothing was looked at", name, figures)
		}
		resp, body := call(t, srv, req{path: "/api/v1/rails"})
		if !regexp.MustCompile(`"value":-?\d+\.\d+`).MatchString(body) || regexp.MustCompile(`"text":"\d+,`).MatchString(body) || resp.Header.Get("Steadyrail-Decimal") != "comma" {
			t.Errorf("%s: the API: %s", name, body)
		}
	}
}

// TestCommaPageIsThePointPage: but for the mark the two are the same page, and
// the numerals of the first lane are there with a comma.
func TestCommaPageIsThePointPage(t *testing.T) {
	nonces := regexp.MustCompile(`data-nonce="[^"]*"|data-decimal="[^"]*"`)
	_, point := call(t, serve(t, newFake(night())), req{path: "/"})
	resp, with := call(t, serve(t, newFake(night()), comma), req{path: "/"})
	if resp.StatusCode != http.StatusOK || !strings.Contains(with, `<span class="int">5</span><span class="frac">,0`) && !strings.Contains(with, ",0") {
		t.Error(resp.StatusCode, "the numeral has no comma")
	}
	point, with = nonces.ReplaceAllString(point, ""), nonces.ReplaceAllString(with, "")
	if len(point) != len(with) || strings.ReplaceAll(point, ",", ".") != strings.ReplaceAll(with, ",", ".") || point == with {
		t.Error("the pages differ by more than the mark")
	}
	if strings.Count(with, "+3.3") != strings.Count(point, "+3.3") {
		t.Error("a rail lost its name")
	}
}
