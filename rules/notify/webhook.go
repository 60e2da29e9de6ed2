package notify

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"time"
)

// WebhookTimeout is the longest that one request may take, unless the
// configuration says otherwise.
const WebhookTimeout = 2 * time.Second

// Webhook posts a message as JSON ([Message.MarshalJSON]) to a URL, with the
// message's key in the header Idempotency-Key. An answer of 2xx is delivery.
// Network errors, 429 and 5xx are tried again; any other answer is not. It
// follows no redirect and uses no proxy.
type Webhook struct {
	name, url   string
	client      *http.Client
	body        *Text // nil: the message as JSON
	contentType string
}

// NewWebhook returns a webhook. A zero timeout is [WebhookTimeout].
func NewWebhook(name, target string, timeout time.Duration) *Webhook {
	if timeout <= 0 {
		timeout = WebhookTimeout
	}
	if name == "" {
		name = "webhook " + redacted(target)
	}
	return &Webhook{name: name, url: target, client: newClient(timeout), contentType: "application/json"}
}

// Bound is how long an attempt may take.
func (w *Webhook) Bound() time.Duration { return w.client.Timeout }

func openWebhook(c Config, env Env) (Notifier, error) {
	w := NewWebhook(c.Name, c.URL, c.Timeout)
	if c.ContentType != "" {
		w.contentType = c.ContentType
	}
	var err error
	w.body, err = c.body(env.Zone)
	return w, err
}

func checkWebhook(c Config) []error {
	errs := checkURL(c, "a webhook needs an address to post to, for example http://127.0.0.1:9999/hook")
	t, err := c.body(nil)
	if err != nil {
		return append(errs, err)
	}
	if c.ContentType != "" && t == nil {
		return append(errs, errors.New("content_type: without a body of your own it is application/json: leave it out"))
	}
	if _, _, err := mime.ParseMediaType(c.ContentType); c.ContentType != "" && err != nil {
		return append(errs, fmt.Errorf("content_type: %q is no media type: write text/plain or application/json", c.ContentType))
	}
	if t == nil || c.ContentType != "" && c.ContentType != "application/json" {
		return errs
	}
	for _, m := range samples() {
		if text, _ := t.Of(m); !json.Valid([]byte(text)) {
			key := "body"
			if c.BodyFile != "" {
				key = "body_file"
			}
			return append(errs, fmt.Errorf("%s: what the template makes is not JSON: write {{json .Sentence}} for a text, or say content_type: text/plain", key))
		}
	}
	return errs
}

// checkURL checks an address to post to.
func checkURL(c Config, missing string) []error {
	u, err := url.Parse(c.URL)
	switch {
	case c.URL == "":
		return []error{errors.New("url: " + missing)}
	case err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https":
		return []error{errors.New("url: the address must begin with http:// or https:// and name a host")}
	}
	return nil
}

// newClient returns a client that follows nobody anywhere.
func newClient(timeout time.Duration) *http.Client {
	return &http.Client{
		Timeout: timeout,
		Transport: &http.Transport{
			Proxy:               nil, // what the environment says is not for a bench
			DialContext:         (&net.Dialer{Timeout: timeout}).DialContext,
			TLSHandshakeTimeout: timeout,
			MaxIdleConns:        1,
			IdleConnTimeout:     time.Minute,
			ForceAttemptHTTP2:   true,
		},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// redacted leaves out what may be a secret: user, path and query.
func redacted(target string) string {
	u, err := url.Parse(target)
	if err != nil || u.Host == "" {
		return "without an address"
	}
	return u.Scheme + "://" + u.Host
}

// Name returns the notifier's name.
func (w *Webhook) Name() string { return w.name }

// Notify makes one attempt.
func (w *Webhook) Notify(ctx context.Context, m Message) error {
	body, err := w.text(m)
	if err != nil {
		return fmt.Errorf("write message: %w: %w", ErrPermanent, err)
	}
	return post(ctx, w.client, w.url, body, http.Header{"Content-Type": {w.contentType}, "Idempotency-Key": {m.Key()}})
}

func (w *Webhook) text(m Message) ([]byte, error) {
	if w.body == nil {
		return json.Marshal(m)
	}
	s, err := w.body.Of(m)
	return []byte(s), err
}

// post makes one request and judges the answer.
func post(ctx context.Context, client *http.Client, target string, body []byte, head http.Header) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, target, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("post to %s: %w: the address cannot be used", redacted(target), ErrPermanent)
	}
	req.Header = head
	req.Header.Set("User-Agent", "steadyrail")
	resp, err := client.Do(req)
	if err != nil {
		return fmt.Errorf("post to %s: %w", redacted(target), cause(err))
	}
	defer resp.Body.Close()
	_, _ = io.CopyN(io.Discard, resp.Body, 4096) // so that the connection can be used again
	return verdict(target, resp)
}

// cause drops the URL that the client puts into its errors.
func cause(err error) error {
	if u, ok := err.(*url.Error); ok {
		return u.Err
	}
	return err
}

func verdict(target string, resp *http.Response) error {
	code := resp.StatusCode
	err := fmt.Errorf("post to %s: answered %d %s", redacted(target), code, http.StatusText(code)) // the far end may put anything beside the code
	switch {
	case code >= 200 && code < 300:
		return nil
	case code == http.StatusTooManyRequests || code >= 500:
		if s, bad := strconv.Atoi(resp.Header.Get("Retry-After")); bad == nil && s > 0 && s < 86400 {
			return &RetryError{After: time.Duration(s) * time.Second, Err: err}
		}
		return err
	}
	return fmt.Errorf("%w: %w", err, ErrPermanent)
}

// Close lets idle connections go.
func (w *Webhook) Close() error {
	w.client.CloseIdleConnections()
	return nil
}
