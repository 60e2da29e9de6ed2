package web

import (
	"bytes"
	"embed"
	"fmt"
	"html"
	"html/template"
	"io"
	"io/fs"
	"net/url"

	"steadyrail/capture"
)

//go:embed pages/*.html
var pageFiles embed.FS

//go:embed assets
var assetFiles embed.FS

// Assets returns the style sheet, the scripts and the marks, for /assets/.
func Assets() fs.FS {
	sub, err := fs.Sub(assetFiles, "assets")
	if err != nil {
		panic(err) // the folder is compiled in
	}
	return sub
}

// parts lists what each page swaps while it is looked at, in its order.
var parts = map[string][]string{
	"bench":     {"mast", "stages", "shout", "say", "asks", "lanes", "others", "facts", "earth"},
	"rail":      {"mast", "stages", "shout", "now", "history", "about"},
	"alarms":    {"mast", "stages", "shout", "say", "open", "past"},
	"rules":     {"mast", "stages", "shout", "say", "force"},
	"health":    {"mast", "stages", "shout"}, // looked at when it is opened
	"reports":   {"mast", "stages", "shout"}, // looked at when it is opened
	"standin":   {"mast", "stages", "shout"}, // its sentence is about what was asked
	"isolate":   {"mast", "stages", "shout", "say", "found"},
	"trim":      {"mast", "stages", "shout", "now", "facts"},
	"job":       {"mast", "stages", "shout", "say", "line", "rails", "placements", "kept", "phone"},
	"soak":      {"mast", "stages", "shout", "say", "run"},
	"discharge": {"mast", "stages", "shout", "say", "now", "leads"},
	"walk":      {"mast", "stages", "shout", "walk", "rows"},
	"demo":      {"mast", "stages", "shout"},
}

// screen is what a page is called and where the work reaches it.
type screen struct {
	Name   string
	Path   string          // where the stages lead; "": they lead to another page, which links to this one
	Stages []capture.Stage // worked on it, in their order
	Typed  bool            // long forms: without scripts the page is not renewed under the hands
}

// screens says it for each page. A stage leads to one page.
var screens = map[string]screen{
	"bench":     {Name: "Bench", Path: "/", Stages: []capture.Stage{capture.LiveChecks}},
	"rail":      {Name: "Rail"},
	"alarms":    {Name: "Alarms"},
	"rules":     {Name: "Rules"},
	"health":    {Name: "Health", Typed: true},
	"reports":   {Name: "Reports", Typed: true},
	"job":       {Name: "Job", Path: "/job", Stages: []capture.Stage{capture.TakeIn}, Typed: true},
	"walk":      {Name: "Walk", Path: "/walk", Stages: []capture.Stage{capture.ColdChecks}},
	"discharge": {Name: "Discharge", Stages: []capture.Stage{capture.ColdChecks}, Typed: true},
	"isolate":   {Name: "Isolate", Path: "/isolate", Stages: []capture.Stage{capture.Isolate}, Typed: true},
	"standin":   {Name: "Stand-in", Path: "/standin", Stages: []capture.Stage{capture.StandIn}, Typed: true},
	"trim":      {Name: "Trim", Path: "/trim", Stages: []capture.Stage{capture.Preset, capture.Trim}},
	"demo":      {Name: "Hands", Typed: true},
	"soak":      {Name: "Soak", Path: "/soak", Stages: []capture.Stage{capture.WarmUp, capture.Soak}, Typed: true},
}

// Has reports whether there is a page of that name.
func Has(page string) bool { return parts[page] != nil }

// Pages holds the templates.
type Pages struct {
	t *template.Template
	// Turn turns the figures of what is drawn to the bench's decimal mark; nil:
	// they keep the point.
	Turn func() capture.Turner
}

// turned is what a browser gets: the page with true minus signs, which names and
// sentences of the record have not, in the bench's decimal mark.
func (p *Pages) turned(page string) string {
	page = capture.MinusHTML(page)
	if p.Turn == nil {
		return page
	}
	return p.Turn().HTML(page)
}

// New reads the embedded templates.
func New() (*Pages, error) {
	t := template.New("").Funcs(template.FuncMap{
		"together": together,
		"capital":  capital,
		"inPath":   url.PathEscape,
		"pair":     func(a, b any) pairOf { return pairOf{a, b} },
		"number":   func(index int) int { return index + 1 },
	})
	t, err := t.ParseFS(pageFiles, "pages/*.html")
	if err != nil {
		return nil, fmt.Errorf("read page templates: %w", err)
	}
	return &Pages{t: t}, nil
}

// Render writes the whole page. Nothing is written when a template fails.
func (p *Pages) Render(w io.Writer, page string, m Model) error {
	if !Has(page) {
		return fmt.Errorf("there is no page %q", page)
	}
	var b bytes.Buffer
	if err := p.t.ExecuteTemplate(&b, page, newView(page, m)); err != nil {
		return fmt.Errorf("draw page %s: %w", page, err)
	}
	_, err := io.WriteString(w, p.turned(b.String()))
	return err
}

// Parts draws the parts of a page, by the id of the element they belong in,
// and the title that stands now.
func (p *Pages) Parts(page string, m Model) (title string, out map[string]string, err error) {
	if !Has(page) {
		return "", nil, fmt.Errorf("there is no page %q", page)
	}
	v := newView(page, m)
	out = map[string]string{}
	for _, name := range parts[page] {
		var b bytes.Buffer
		if err := p.t.ExecuteTemplate(&b, partName(page, name), v); err != nil {
			return "", nil, fmt.Errorf("draw %s of page %s: %w", name, page, err)
		}
		out["part-"+name] = p.turned(b.String())
	}
	return html.UnescapeString(p.turned(html.EscapeString(v.Title()))), out, nil
}

// partName finds a part: those that stand on every page have a name of their
// own, the rest belong to their page.
func partName(page, part string) string {
	switch part {
	case "mast", "stages", "shout", "say":
		return "part-" + part
	}
	return page + "-" + part
}

// Trouble is a problem as a page shows it.
type Trouble struct {
	Title, Detail, Hint string
	Status              int
	Back                string
	Locked              bool // show the form that takes the token
	Ask                 *Question
}

// Question asks which of a few values is meant: a form with a button for each.
type Question struct {
	Action, Name string
	Values       []string
	Hidden       [][2]string // what is sent along: name and value
	Choices      []Choice    // instead of values: each sends fields of its own
}

// Choice is a button with a form of its own.
type Choice struct {
	Label  string
	Hidden [][2]string // what is sent: name and value
}

// Problem writes the page of a problem.
func (p *Pages) Problem(w io.Writer, t Trouble) error {
	var b bytes.Buffer
	if err := p.t.ExecuteTemplate(&b, "problem", t); err != nil {
		return fmt.Errorf("draw the page of a problem: %w", err)
	}
	_, err := io.WriteString(w, p.turned(b.String()))
	return err
}
