package dashboards

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"net/http"
	"net/url"
	"strings"
)

const unlockHint = "open the link that the daemon printed when it started: it carries the token"

// nonceHeader carries the session's nonce in requests made by our scripts.
const nonceHeader = "X-Steadyrail-Nonce"

// keeper knows the token and makes sessions from it. A session is a random
// value with its seal, kept in a cookie; the nonce that forms must bring along
// is sealed from the session. Nothing is stored, so nothing grows.
type keeper struct{ token, key []byte }

func newKeeper(token string) keeper {
	sum := sha256.Sum256([]byte("steadyrail session\x00" + token))
	return keeper{token: []byte(token), key: sum[:]}
}

// knows compares in constant time. Without a token nobody may act.
func (k keeper) knows(token string) bool {
	return len(k.token) > 0 && subtle.ConstantTimeCompare(k.token, []byte(token)) == 1
}

func (k keeper) seal(what, of string) string {
	m := hmac.New(sha256.New, k.key)
	m.Write([]byte(what + "\x00" + of))
	return base64.RawURLEncoding.EncodeToString(m.Sum(nil))
}

// open makes a new session.
func (k keeper) open() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails, see crypto/rand
	id := base64.RawURLEncoding.EncodeToString(b[:])
	return id + "." + k.seal("session", id)
}

// valid reports whether this keeper made the session.
func (k keeper) valid(session string) bool {
	id, seal, ok := strings.Cut(session, ".")
	return ok && len(k.token) > 0 && same(seal, k.seal("session", id))
}

// nonce is what forms of this session bring along.
func (k keeper) nonce(session string) string { return k.seal("nonce", session) }

func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

// cookieName keeps two daemons on one computer apart: cookies know no port.
func cookieName(r *http.Request) string {
	if _, port := splitHost(r.Host); port != "" {
		return "steadyrail-" + port
	}
	return "steadyrail"
}

// session returns the valid session of a request, or "".
func (h *handler) session(r *http.Request) string {
	c, err := r.Cookie(cookieName(r))
	if err != nil || !h.keeper.valid(c.Value) {
		return ""
	}
	return c.Value
}

// bearer reports whether the request carries the token itself.
func (h *handler) bearer(r *http.Request) bool {
	kind, token, ok := strings.Cut(r.Header.Get("Authorization"), " ")
	return ok && strings.EqualFold(kind, "Bearer") && h.keeper.knows(token)
}

// mayAct reports whether the far end has shown the token, now or before.
func (h *handler) mayAct(r *http.Request) bool { return h.bearer(r) || h.session(r) != "" }

// acting lets a request through that may act: the token itself, or a session
// together with its nonce.
func (h *handler) acting(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if h.bearer(r) {
			next(w, r)
			return
		}
		session := h.session(r)
		if session == "" {
			h.fail(w, r, &Error{Kind: Locked, Detail: "acts need the bench's token", Hint: unlockHint})
			return
		}
		brought := r.Header.Get(nonceHeader)
		if brought == "" && isForm(r) {
			if err := parseForm(r); err != nil {
				h.fail(w, r, unreadable(err))
				return
			}
			brought = r.PostForm.Get("nonce")
		}
		if !same(brought, h.keeper.nonce(session)) {
			h.fail(w, r, &Error{Kind: NotAllowed, Detail: "the form is not one of this session", Hint: "load the page again and repeat"})
			return
		}
		next(w, r)
	}
}

func isForm(r *http.Request) bool {
	kind := r.Header.Get("Content-Type")
	return strings.HasPrefix(kind, "application/x-www-form-urlencoded") || isUpload(r)
}

// admit opens a session for whoever shows the token, and sends them to the
// same page without it, so that it stays in no address bar.
func (h *handler) admit(w http.ResponseWriter, r *http.Request, token, to string) {
	if !h.keeper.knows(token) {
		h.fail(w, r, &Error{Kind: Locked, Detail: "this is not the token of this daemon", Hint: "it is made anew at every start: " + unlockHint})
		return
	}
	http.SetCookie(w, &http.Cookie{Name: cookieName(r), Value: h.keeper.open(), Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil})
	http.Redirect(w, r, ownPath(to), http.StatusSeeOther)
}

// withToken takes ?token= off any page.
func (h *handler) withToken(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		q := r.URL.Query()
		if !q.Has("token") {
			next(w, r)
			return
		}
		token := q.Get("token")
		q.Del("token")
		clean := url.URL{Path: r.URL.Path, RawPath: r.URL.RawPath, RawQuery: q.Encode()}
		h.admit(w, r, token, clean.String())
	}
}

// unlock takes the token from a form.
func (h *handler) unlock(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		h.fail(w, r, unreadable(err))
		return
	}
	h.admit(w, r, strings.TrimSpace(r.PostForm.Get("token")), r.PostForm.Get("back"))
}

// ownPath keeps a redirect on this daemon.
func ownPath(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, `\`) {
		return "/"
	}
	return to
}
