package dashboards

import (
	"io"
	"net/http"
	"strconv"
	"strings"

	"steadyrail/capture"
)

// MaxFile bounds a picture or a sound, in bytes. Package capture/media has the
// same limit and says what is wrong with a file.
const MaxFile = 24 << 20

// parseForm reads a form; of one with a file, most of it goes to a temporary file.
func parseForm(r *http.Request) error {
	if isUpload(r) {
		return r.ParseMultipartForm(1 << 20)
	}
	return r.ParseForm()
}

var noEntries = &Error{Kind: NotFound, Detail: "this daemon keeps no pictures and sounds"}

// postFile takes the body as a picture or sound; what it is of stands in the address.
func (h *handler) postFile(w http.ResponseWriter, r *http.Request) {
	if h.opts.Entries == nil {
		h.fail(w, r, noEntries)
		return
	}
	data, err := io.ReadAll(r.Body)
	if err != nil {
		h.fail(w, r, tooLong(err))
		return
	}
	q := r.URL.Query()
	res, err := h.opts.Entries.Enclose(r.Context(), q.Get("job"), File{Data: data, Of: q.Get("of"), By: q.Get("by")})
	h.done(w, r, http.StatusCreated, res, err)
}

// tooLong says the limit of a file, where another error of reading stands as it is.
func tooLong(err error) error {
	if p := problemOf(err, ""); p.Status == http.StatusRequestEntityTooLarge {
		return &Error{Kind: TooLarge, Err: err, Hint: "a picture or sound may have " + capture.Bytes(MaxFile)}
	}
	return unreadable(err)
}

// formFile takes files from a page.
func (h *handler) formFile(w http.ResponseWriter, r *http.Request) {
	if h.opts.Entries == nil {
		h.back(w, r, noEntries)
		return
	}
	_, err := takeFiles(r, func(f File) (Result, error) { return h.opts.Entries.Enclose(r.Context(), r.PostFormValue("job"), f) })
	h.back(w, r, err)
}

// takeFiles hands each file of a form to f. The name that it brings is not looked at.
func takeFiles(r *http.Request, f func(File) (Result, error)) (last Result, err error) {
	if err := r.ParseMultipartForm(1 << 20); err != nil {
		return last, tooLong(err)
	}
	defer r.MultipartForm.RemoveAll()
	files := r.MultipartForm.File["file"]
	if len(files) == 0 {
		return last, &Error{Kind: Invalid, Detail: "no file came", Hint: "choose a picture or a sound"}
	}
	for _, head := range files {
		file, err := head.Open()
		if err != nil {
			return last, err
		}
		data, err := io.ReadAll(io.LimitReader(file, MaxFile+1))
		file.Close()
		if err == nil {
			last, err = f(File{Data: data, Of: strings.TrimSpace(r.PostFormValue("of"))})
		}
		if err != nil {
			return last, err
		}
	}
	return last, nil
}

func (h *handler) formPart(w http.ResponseWriter, r *http.Request) {
	f := r.PostFormValue
	p := capture.Fitted{Type: f("type"), Maker: f("maker"), Origin: f("origin"), DateCode: f("date_code"), Replaces: f("replaces"), Cost: f("cost"), Quantity: 1}
	if n := strings.TrimSpace(f("quantity")); n != "" {
		var err error
		if p.Quantity, err = strconv.Atoi(n); err != nil {
			h.back(w, r, &Error{Kind: Invalid, Detail: "quantity " + clip(n) + " is no whole number"})
			return
		}
	}
	_, err := h.act(r.Context(), actBody{Job: f("job"), Act: p.Act(f("of"), "")})
	h.back(w, r, err)
}

// getEnclosure serves a picture or sound as what its content is, never as a page.
func (h *handler) getEnclosure(w http.ResponseWriter, r *http.Request) {
	if h.opts.Entries == nil {
		h.fail(w, r, noEntries)
		return
	}
	kind, data, err := h.opts.Entries.Enclosure(r.Context(), r.PathValue("job"), r.PathValue("hash"), r.URL.Query().Has("small"))
	if err != nil {
		h.fail(w, r, err)
		return
	}
	head := w.Header()
	head.Set("Content-Type", kind)
	head.Set("Content-Security-Policy", "sandbox; default-src 'none'; img-src 'self'; media-src 'self'; style-src 'unsafe-inline'")
	head.Set("Cache-Control", "private, max-age=86400, immutable") // the address is the content's hash
	_, _ = w.Write(data)
}
