package notify

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
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
	name, url string
	client    *http.Client
}

// NewWebhook returns a webhook. A zero timeout is [WebhookTimeout].
func NewWebhook(name, target string, timeout time.Duration) *Webhook {
	if timeout <= 0 {
		timeout = WebhookTimeout
	}
	if name == "" {
		name = "webhook " + redacted(target)
	}
	return &Webhook{name: name, url: target, client: &http.Client{
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
	}}
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
	body, err := json.Marshal(m)
	if err != nil {
		return fmt.Errorf("write message: %w: %w", ErrPermanent, err)
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, w.url, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("post to %s: %w: the address cannot be used", redacted(w.url), ErrPermanent)
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", "steadyrail")
	req.Header.Set("Idempotency-Key", m.Key())
	resp, err := w.client.Do(req)
	if err != nil {
		return fmt.Errorf("post to %s: %w", redacted(w.url), cause(err))
	}
	defer resp.Body.Close()
	_, _ = io.CopyN(io.Discard, resp.Body, 4096) // so that the connection can be used again
	return w.verdict(resp)
}

// cause drops the URL that the client puts into its errors.
func cause(err error) error {
	if u, ok := err.(*url.Error); ok {
		return u.Err
	}
	return err
}

func (w *Webhook) verdict(resp *http.Response) error {
	code := resp.StatusCode
	err := fmt.Errorf("post to %s: answered %s", redacted(w.url), resp.Status)
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
