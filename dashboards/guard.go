package dashboards

import (
	"net"
	"net/http"
	"net/netip"
	"strings"

	"steadyrail/dashboards/web"
)

// maxBody bounds what an act may send, in bytes.
const maxBody = 64 << 10

// guard stands before everything. The order matters: Host first, because a
// rebound name makes every later check look right, then the
// site the request came from, then whether the far end may look at all.
func (h *handler) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		securityHeaders(w.Header())
		h.timed(w, r)
		switch {
		case !h.hostAllowed(r):
			h.fail(w, r, &Error{Kind: Misdirected, Detail: "this daemon does not answer to the Host " + clip(r.Host),
				Hint: "use http://127.0.0.1 with the daemon's port, or name the host in the configuration"})
		case h.foreign(r):
			h.fail(w, r, &Error{Kind: NotAllowed, Detail: "the request came from another site", Hint: "open the bench's own page"})
		case !loopback(r.RemoteAddr) && !h.mayAct(r) && !openToAll(r):
			h.fail(w, r, &Error{Kind: Locked, Detail: "from another computer looking needs the token as well", Hint: unlockHint})
		default:
			r.Body = http.MaxBytesReader(w, r.Body, bodyLimit(r))
			next.ServeHTTP(w, r)
		}
	})
}

// securityHeaders allow nothing but our own files, and no frame around us.
func securityHeaders(head http.Header) {
	head.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	head.Set("X-Content-Type-Options", "nosniff")
	head.Set("X-Frame-Options", "DENY")
	head.Set("Referrer-Policy", "no-referrer")
	head.Set("Cross-Origin-Opener-Policy", "same-origin")
	head.Set("Cross-Origin-Resource-Policy", "same-origin")
	head.Set("Cache-Control", "no-store")
}

// hostAllowed compares the Host with the loopback names at our own port and
// with the configured names. A configured name without a port is good at any.
func (h *handler) hostAllowed(r *http.Request) bool {
	host := strings.ToLower(r.Host)
	name, port := splitHost(host)
	for _, own := range h.opts.Hosts {
		own = strings.ToLower(own)
		if own == host || own == name {
			return true
		}
	}
	switch name {
	case "127.0.0.1", "::1", "localhost":
	default:
		return false
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return true // not served by a net/http server: there is no port to compare
	}
	_, ours, err := net.SplitHostPort(local.String())
	return err == nil && (port == ours || port == "" && ours == "80")
}

func splitHost(host string) (name, port string) {
	name, port, err := net.SplitHostPort(host)
	if err != nil {
		return strings.Trim(host, "[]"), ""
	}
	return name, port
}

// foreign reports whether the browser says that another site made the request.
// A plain link from elsewhere to one of the pages stays possible: what it
// opens, the other site cannot read.
func (h *handler) foreign(r *http.Request) bool {
	if h.crossOrigin.Check(r) != nil {
		return true
	}
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
		return false
	}
	following := r.Method == http.MethodGet && r.Header.Get("Sec-Fetch-Mode") == "navigate"
	return !following || strings.HasPrefix(r.URL.Path, "/api/")
}

// openToAll lists what anyone may ask who reaches the port: to be unlocked,
// whether the daemon lives, and how the page that says "locked" is drawn.
func openToAll(r *http.Request) bool {
	switch path := r.URL.Path; {
	case path == "/healthz", path == "/unlock", strings.HasPrefix(path, "/assets/"):
		return true
	case path == "/", path == "/report", web.Has(strings.TrimPrefix(path, "/")), strings.HasPrefix(path, "/rail/"):
		return r.Method == http.MethodGet && r.URL.Query().Has("token") // withToken answers, and only that
	}
	return false
}

func loopback(remote string) bool {
	ap, err := netip.ParseAddrPort(remote)
	return err == nil && ap.Addr().Unmap().IsLoopback()
}

// clip quotes what came from outside at a sane length.
func clip(s string) string {
	if len(s) > 80 {
		s = s[:80] + "…"
	}
	return `"` + strings.ToValidUTF8(s, "?") + `"`
}
